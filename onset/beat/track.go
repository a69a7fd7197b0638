package beat

import (
	"cmp"
	"math"
	"slices"
)

const (
	frame     = 0.01  // s
	width     = 0.02  // s, of a begin
	expected  = 0.6   // how much a beat of the window's grid counts against a note
	tightness = 200.0 // how much a change of period costs (Ellis 2007, alpha)
)

// reach is how far a begin's bump goes, in frames.
const reach = 3 * width / frame

// track places beats, each about a period after the last.
func track(begins []begin, c curve, from, to float64) []float64 {
	n := int((to-from)/frame) + 1
	return follow(n, c, from, func(i int) float64 {
		for len(begins) > 0 && int((begins[0].time-from)/frame+reach) < i {
			begins = begins[1:]
		}
		return merit(begins, c, from, i)
	})
}

// merit of a beat at frame i, given what begins from there on and shortly before.
func merit(begins []begin, c curve, from float64, i int) float64 {
	sum := 0.0
	for _, o := range begins {
		at := (o.time - from) / frame
		if int(at-reach) > i {
			break
		}
		if d := (float64(i) - at) * frame / width; int(at+reach) >= i {
			sum += o.weight * math.Exp(-d*d/2)
		}
	}
	t := from + float64(i)*frame
	p := c.near(t)
	d := math.Remainder((t-p.beat)/p.period, 1) * p.period / width
	return min(sum, 1.5) + expected*math.Exp(-d*d/2) // several begins at once are one beat
}

// follow is the dynamic programming over n frames: the sequence of frames with the
// most merit less the cost of uneven distances.
func follow(n int, c curve, from float64, merit func(i int) float64) []float64 {
	slowest := slices.MaxFunc(c, func(a, b point) int { return cmp.Compare(a.period, b.period) }).period / frame
	total := make([]float64, int(2*slowest)+2) // of the latest frames: frame i at i % len
	before := make([]uint16, n)                // frames to the beat before, 0 for none
	period := func(i int) float64 { return c.near(from+float64(i)*frame).period / frame }
	usual, uneven := 0.0, make([]float64, len(total)) // costs of distances at that period
	for i := range n {
		p := period(i)
		if p != usual {
			usual = p
			for d := range uneven {
				z := math.Log(float64(d) / p)
				uneven[d] = tightness * z * z
			}
		}
		best, apart := 0.0, 0
		if float64(i) >= p { // a first beat later than this has been missed
			best = math.Inf(-1)
		}
		for d := min(i, int(2*p)); d >= int(p/2); d-- {
			if v := total[(i-d)%len(total)] - uneven[d]; v > best {
				best, apart = v, d
			}
		}
		total[i%len(total)], before[i] = best+merit(i), uint16(apart)
	}
	last := n - 1
	for i := max(0, n-int(period(n-1))); i < n; i++ {
		if total[i%len(total)] > total[last%len(total)] {
			last = i
		}
	}
	var out []float64
	for i := last; ; i -= int(before[i]) {
		out = append(out, from+float64(i)*frame)
		if before[i] == 0 {
			break
		}
	}
	slices.Reverse(out)
	return out
}
