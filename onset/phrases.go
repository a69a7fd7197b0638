package onset

// Space is the least gap in seconds that ends a phrase: longer than a breath,
// shorter than a beat at a slow tempo (common practice, no source).
const Space = 0.45

// Phrases joins sounding spans (start and end in seconds, by start) that are
// less than space seconds apart.
func Phrases(spans [][2]float64, space float64) [][2]float64 {
	var out [][2]float64
	for _, s := range spans {
		if n := len(out); n > 0 && s[0]-out[n-1][1] < space {
			out[n-1][1] = max(out[n-1][1], s[1])
			continue
		}
		out = append(out, s)
	}
	return out
}
