package beat

import "math"

const (
	frame     = 0.01  // s
	width     = 0.02  // s, of an onset
	expected  = 0.6   // how much a beat of the window's grid counts against an onset of weight 1
	tightness = 200.0 // how much a change of period costs (Ellis 2007, alpha)
)

// track places beats, each about a period after the last.
func track(begins []begin, c curve, from, to float64) []float64 {
	n := int((to-from)/frame) + 1
	merit := make([]float64, n)
	for _, o := range begins {
		spreadOut(merit, (o.time-from)/frame, o.weight)
	}
	for i := range merit {
		merit[i] = min(merit[i], 1.5) // several begins at once are one beat
	}
	periods := make([]float64, n) // frames
	k := 0
	for i := range periods {
		t := from + float64(i)*frame
		for k+1 < len(c) && math.Abs(c[k+1].middle-t) < math.Abs(c[k].middle-t) {
			k++
		}
		periods[i] = c[k].period / frame
		d := math.Remainder((t-c[k].beat)/c[k].period, 1) * c[k].period / width
		merit[i] += expected * math.Exp(-d*d/2)
	}
	return follow(merit, periods, from)
}

// spreadOut adds a bump at a fractional frame.
func spreadOut(merit []float64, at, weight float64) {
	const reach = 3 * width / frame
	for i := max(0, int(at-reach)); i <= min(len(merit)-1, int(at+reach)); i++ {
		d := (float64(i) - at) * frame / width
		merit[i] += weight * math.Exp(-d*d/2)
	}
}

// follow is the dynamic programming: the sequence of frames with the most merit
// less the cost of uneven distances.
func follow(merit, periods []float64, from float64) []float64 {
	n := len(merit)
	total, before := make([]float64, n), make([]int, n)
	for i := range total {
		p := periods[i]
		best, at := 0.0, -1
		lo, hi := max(0, i-int(2*p)), i-int(p/2)
		if float64(i) >= p { // a first beat later than this has been missed
			best = math.Inf(-1)
		}
		for j := lo; j <= hi; j++ {
			z := math.Log(float64(i-j) / p)
			if v := total[j] - tightness*z*z; v > best {
				best, at = v, j
			}
		}
		total[i], before[i] = best+merit[i], at
	}
	last := n - 1
	for i := max(0, n-int(periods[n-1])); i < n; i++ {
		if total[i] > total[last] {
			last = i
		}
	}
	var back []int
	for i := last; i >= 0; i = before[i] {
		back = append(back, i)
	}
	out := make([]float64, len(back))
	for i, f := range back {
		out[len(back)-1-i] = from + float64(f)*frame
	}
	return out
}
