package beat

import (
	"math"
	"slices"
)

const (
	frame     = 0.01  // s
	width     = 0.02  // s, of a begin
	expected  = 0.6   // how much a beat of the window's grid counts against a note
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
	for i := range merit {
		t := from + float64(i)*frame
		p := c.near(t)
		d := math.Remainder((t-p.beat)/p.period, 1) * p.period / width
		merit[i] += expected * math.Exp(-d*d/2)
	}
	return follow(merit, c, from)
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
// less the cost of uneven distances. It overwrites merit.
func follow(merit []float64, c curve, from float64) []float64 {
	n := len(merit)
	total, before := merit, make([]int32, n)
	period := func(i int) float64 { return c.near(from+float64(i)*frame).period / frame }
	for i := range total {
		p := period(i)
		best, at := 0.0, -1
		if float64(i) >= p { // a first beat later than this has been missed
			best = math.Inf(-1)
		}
		for j := max(0, i-int(2*p)); j <= i-int(p/2); j++ {
			z := math.Log(float64(i-j) / p)
			if v := total[j] - tightness*z*z; v > best {
				best, at = v, j
			}
		}
		total[i], before[i] = best+merit[i], int32(at)
	}
	last := n - 1
	for i := max(0, n-int(period(n-1))); i < n; i++ {
		if total[i] > total[last] {
			last = i
		}
	}
	var out []float64
	for i := last; i >= 0; i = int(before[i]) {
		out = append(out, from+float64(i)*frame)
	}
	slices.Reverse(out)
	return out
}
