package contour

import (
	"math"

	"blowdraw/pitch"
)

// Vibrato is a regular swing of pitch or loudness. Cents and DB are how far it
// swings each way once it has grown; Delay is the time from the front of the line
// until it begins.
type Vibrato struct {
	Hz, Cents, DB float64
	Delay         float64 // seconds
	// PitchShare and LevelShare say how regular the swing is: the share of the
	// movement of pitch, and of level, that one sine explains where it fits best,
	// slow changes left out.
	PitchShare, LevelShare float64
	Turns                  float64 // how many times it swings there
}

const (
	slowest, fastest = 3.2, 8.8 // Hz
	rateStep         = 0.2      // Hz, before refinement
	leastTurns       = 1.3
	stretchSeconds   = 1.0 // over which a rate is taken to be constant
	leastSeconds     = 0.25
	growSeconds      = 0.2  // that a vibrato takes to grow
	leadSeconds      = 0.07 // of the attack, and
	tailSeconds      = 0.04 // of the release, that are left out
)

// Vibrato is the most regular swing of the line after its first after seconds, such
// as a scoop takes; zero for a line that is too short and where none stands out.
// A sine that grows after a delay, or that is there all along, is fitted to pitch
// and level by least squares, for each rate and in overlapping stretches of a long
// note.
func (l Line) Vibrato(after float64) Vibrato {
	lo, hi := frames(max(leadSeconds, after)), len(l.Cents)-frames(tailSeconds)
	var best Vibrato
	if hi-lo < frames(leastSeconds) {
		return best
	}
	top := 0.0
	size := min(frames(stretchSeconds), hi-lo)
	for from := lo; from+size <= hi; from += max(1, size/2) {
		f := newFit(l.Cents[from:from+size], l.Level[from:from+size])
		delays := []float64{-growSeconds}
		for d := 0.0; from == lo && d+growSeconds < f.seconds(); d += growSeconds / 2 {
			delays = append(delays, d)
		}
		for _, delay := range delays {
			if v, merit := f.best(delay); merit > top {
				best, top = v, merit
				best.Delay = float64(from)*pitch.HopSeconds + max(0, delay)
			}
		}
	}
	return best
}

// fit is a stretch of pitch and level, flattened.
type fit struct {
	cents, level []float64
	slow         [3][]float64 // orthonormal parabolas, to which both are
	c, s         []float64    // room for a sine
}

func newFit(cents, level []float64) *fit {
	n := len(cents)
	f := &fit{
		cents: append([]float64(nil), cents...),
		level: append([]float64(nil), level...),
		c:     make([]float64, n),
		s:     make([]float64, n),
	}
	for k := range f.slow {
		b := make([]float64, n)
		for i := range b {
			b[i] = math.Pow((float64(i)+0.5)/float64(n)-0.5, float64(k))
		}
		for _, a := range f.slow[:k] {
			remove(b, a)
		}
		scale := 1 / math.Sqrt(dot(b, b))
		for i := range b {
			b[i] *= scale
		}
		f.slow[k] = b
	}
	f.flatten(f.cents)
	f.flatten(f.level)
	return f
}

func (f *fit) seconds() float64 { return float64(len(f.cents)) * pitch.HopSeconds }

// flatten takes off x the parabola that fits it best.
func (f *fit) flatten(x []float64) {
	for _, b := range f.slow {
		remove(x, b)
	}
}

// remove takes off x its part along b, whose length is 1.
func remove(x, b []float64) {
	a := dot(x, b) / dot(b, b)
	for i := range x {
		x[i] -= a * b[i]
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// best rate of a swing that begins to grow after delay seconds. The merit counts
// for how much regular movement there is.
func (f *fit) best(delay float64) (v Vibrato, merit float64) {
	lowest := max(slowest, leastTurns/(f.seconds()-max(0, delay)))
	for hz := lowest; hz <= fastest; hz += rateStep {
		if x := f.at(hz, delay); x.merit() > merit {
			v, merit = x, x.merit()
		}
	}
	if merit == 0 {
		return v, 0
	}
	a, b := f.at(v.Hz-rateStep, delay).merit(), f.at(v.Hz+rateStep, delay).merit()
	if a > merit || b > merit { // slower or faster than any vibrato
		return Vibrato{}, 0
	}
	if d := a - 2*merit + b; d < 0 {
		v = f.at(v.Hz+0.5*rateStep*(a-b)/d, delay)
	}
	return v, merit
}

// merit is greatest where most regular movement is explained: 10 cents count like
// 2 dB.
func (v Vibrato) merit() float64 {
	return (v.PitchShare*v.Cents/10 + v.LevelShare*v.DB/2) * math.Sqrt(v.Turns)
}

// at fits a sine of one rate.
func (f *fit) at(hz, delay float64) Vibrato {
	for i := range f.c {
		t := float64(i) * pitch.HopSeconds
		grown := min(max((t-delay)/growSeconds, 0), 1)
		s, c := math.Sincos(2 * math.Pi * hz * t)
		f.s[i], f.c[i] = grown*s, grown*c
	}
	f.flatten(f.c)
	f.flatten(f.s)
	v := Vibrato{Hz: hz, Turns: hz * (f.seconds() - max(0, delay))}
	v.Cents, v.PitchShare = f.sine(f.cents)
	v.DB, v.LevelShare = f.sine(f.level)
	return v
}

// sine is the amplitude of the sine in x and the share of the energy of x that it
// explains.
func (f *fit) sine(x []float64) (amplitude, share float64) {
	cc, cs, ss := dot(f.c, f.c), dot(f.c, f.s), dot(f.s, f.s)
	xc, xs, xx := dot(x, f.c), dot(x, f.s), dot(x, x)
	det := cc*ss - cs*cs
	if det < 1e-3*cc*ss || xx < 1e-9 {
		return 0, 0
	}
	a, b := (xc*ss-xs*cs)/det, (xs*cc-xc*cs)/det
	return math.Hypot(a, b), (a*xc + b*xs) / xx
}
