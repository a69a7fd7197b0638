package pitch

import "math"

const (
	deviationReach = 65 // cents searched around a partial's expected place
	deviationTop   = 6  // partials used
)

// Deviation measures how far in cents the tone near hz is off, from the power
// spectrum of a Hann window of size samples at Rate. Each partial's peak is
// interpolated with a parabola through the logarithmic powers (Smith & Serra
// 1987, PARSHL); the result is the median weighted with the partial's amplitude
// and number, since higher partials move further in Hz. NaN if no partial has a
// peak.
func Deviation(power []float32, size int, hz float64) float64 {
	var cents, weights []float64
	for h := 1; h <= deviationTop; h++ {
		x := hz * float64(h) / Rate * float64(size)
		lo := int(math.Floor(x * math.Exp2(-deviationReach/1200.0)))
		hi := int(math.Ceil(x * math.Exp2(deviationReach/1200.0)))
		if lo < 1 || hi >= len(power)-1 {
			break
		}
		k := highestPeak(power, lo, hi)
		if k < 0 || power[k] < 1e-12 {
			continue
		}
		peak := float64(k) + Vertex(power[k-1], power[k], power[k+1])
		c := 1200 * math.Log2(peak/x)
		if math.Abs(c) > deviationReach {
			continue
		}
		cents = append(cents, c)
		weights = append(weights, math.Sqrt(math.Sqrt(float64(power[k])))*float64(h))
	}
	return WeightedMedian(cents, weights)
}

// highestPeak of power[lo:hi+1], -1 if none of them is one. The bins beside
// them must exist.
func highestPeak(power []float32, lo, hi int) int {
	k := -1
	for j := lo; j <= hi; j++ {
		if power[j] > power[j-1] && power[j] >= power[j+1] && (k < 0 || power[j] > power[k]) {
			k = j
		}
	}
	return k
}

// Vertex is where the parabola through three logarithmic values peaks, in
// steps from the middle one.
func Vertex(a, b, c float32) float64 {
	la, lb, lc := math.Log(float64(a)+1e-20), math.Log(float64(b)+1e-20), math.Log(float64(c)+1e-20)
	d := la - 2*lb + lc
	if d >= 0 {
		return 0
	}
	return 0.5 * (la - lc) / d
}
