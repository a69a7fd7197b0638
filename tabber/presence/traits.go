package presence

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/decode/fft"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// trait is one thing about an event that tells a harp from a voice or from
// another instrument. Probabilities count as log odds, means over its time.
type trait int

const (
	sure     trait = iota // log odds of the event's confidence
	sounds                // the least sure of its reeds sounds
	breathed              // its breath
	reeds                 // its number of reeds
	muddle                // log of how many other rows are in doubt at a time
	stands                // dB of its own partials against the whole
	swells                // dB, standard deviation of its level
	offGrid               // cents off its notes, mean of the absolute
	wanders               // cents, standard deviation within the event
	slides                // cents from frame to frame, mean of the absolute
	vowels                // dB, how much its partials move against each other
	lasts                 // log of its seconds
	bent                  // 1 for a bend, 2 for what the harp does not have
	traitCount
)

type traits [traitCount]float64

const (
	oddsMost      = 6.0  // 99.75 %
	leastDoubtful = 0.01 // rows in doubt at a time
)

func logOdds(p float32) float64 {
	return min(max(math.Log(float64(p)/(1-float64(p))), -oddsMost), oddsMost)
}

// rowsOf are the rows of an event, also of one that the harp can't play; nil if
// the ear lacks one.
func rowsOf(h harp.Harp, a pitch.Axis, e tab.Event) []int {
	var rows []int
	for _, x := range e.Actions {
		rows = append(rows, h.Offset(x)+pitch.RowBelow)
	}
	if len(rows) == 0 {
		for _, p := range e.Pitches {
			rows = append(rows, int(math.Round(p-a.Cents/100))-a.Base+pitch.RowBelow)
		}
	}
	for _, r := range rows {
		if r < 0 || r >= pitch.Rows {
			return nil
		}
	}
	return rows
}

// traitsOf an event that sounds on rows over frames [from, to).
func traitsOf(f pitch.Frames, c decode.Clip, e tab.Event, rows []int, from, to int) traits {
	var x traits
	n := float64(to - from)
	x[sure] = logOdds(float32(e.Confidence))
	var level []float64
	for k := from; k < to; k++ {
		least := float32(1)
		for r := range pitch.Rows {
			q := f.Sounding[k*pitch.Rows+r]
			if slices.Contains(rows, r) {
				least = min(least, q)
			} else {
				x[muddle] += doubt(q) / n
			}
		}
		x[sounds] += logOdds(least) / n
		x[breathed] += logOdds(breathOf(f, e, k)) / n
		x[reeds] += logOdds(f.Count[k][min(len(rows), 3)]) / n
		level = append(level, f.LoudOf(rows, k))
		x[stands] += (level[len(level)-1] - float64(f.Level[k])) / n
	}
	x[muddle] = math.Log(x[muddle] + leastDoubtful)
	x[swells] = deviation(level)
	x[offGrid], x[wanders], x[slides] = wander(f, rows, from, to)
	x[vowels] = movement(c.Samples, f, rows[0], from, to)
	x[lasts] = math.Log(n * pitch.HopSeconds)
	if len(e.Actions) == 0 {
		x[bent] = 2
	} else if e.Actions[0].Bend != 0 {
		x[bent] = 1
	}
	return x
}

// doubt is 1 for a probability of 1/2 and 0 for one of 0 or 1.
func doubt(p float32) float64 { return 4 * float64(p) * (1 - float64(p)) }

// breathOf is the probability of an event's breath at a frame.
func breathOf(f pitch.Frames, e tab.Event, k int) float32 {
	if len(e.Actions) == 0 {
		return max(f.Breath[k][1], f.Breath[k][2])
	}
	return f.Breath[k][1+int(e.Actions[0].Breath)]
}

// wander measures the pitch of an event's rows in cents, the worst row: how far
// off the row it is, how it spreads, how it moves from frame to frame.
func wander(f pitch.Frames, rows []int, from, to int) (off, spread, step float64) {
	for _, r := range rows {
		var cents []float64
		moved, steps := 0.0, 0.0
		last := math.NaN()
		for k := from; k < to; k++ {
			v := float64(f.Cents[k*pitch.Rows+r])
			if !math.IsNaN(v) {
				cents = append(cents, v)
			}
			if d := math.Abs(v - last); !math.IsNaN(d) {
				moved, steps = moved+d, steps+1
			}
			last = v
		}
		sum := 0.0
		for _, v := range cents {
			sum += math.Abs(v)
		}
		off = max(off, sum/max(float64(len(cents)), 1))
		spread = max(spread, deviation(cents))
		step = max(step, moved/max(steps, 1))
	}
	return off, spread, step
}

// deviation is the standard deviation, 0 of nothing.
func deviation(x []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sum += (v - mean) * (v - mean) / float64(len(x))
	}
	return math.Sqrt(sum)
}

const (
	movementWindow   = 1024 // samples
	movementStep     = 2    // frames
	movementPartials = 10
)

// movement is how much the levels of a tone's partials move against each other,
// in dB: the median over partials of the standard deviation of their level
// against the mean of all. A reed keeps its tone, a voice changes its vowel.
func movement(x []float64, f pitch.Frames, r, from, to int) float64 {
	var partials [movementPartials][]float64
	taper := fft.Hann(movementWindow)
	for k := from; k < to; k += movementStep {
		cents := float64(f.Cents[k*pitch.Rows+r])
		at := k*pitch.Hop - movementWindow/2
		if math.IsNaN(cents) || at < 0 || at+movementWindow > len(x) {
			continue
		}
		step := 2 * math.Pi * f.Axis.Hz(float64(r)+cents/100) / pitch.Rate
		n := min(movementPartials, int(0.9*math.Pi/step))
		db, mean := amplitudes(x[at:at+movementWindow], taper, step, n), 0.0
		for p, v := range db {
			db[p] = 20 * math.Log10(v+1e-6)
			mean += db[p] / float64(n)
		}
		for p := range db {
			partials[p] = append(partials[p], db[p]-mean)
		}
	}
	var moved []float32
	for _, p := range partials {
		if len(p) > 1 {
			moved = append(moved, float32(deviation(p)))
		}
	}
	if len(moved) == 0 {
		return 0
	}
	return pitch.Percentile(moved, 0.5)
}

// amplitudes of the first n partials of a fundamental of w radians a sample in x,
// through a Hann window.
func amplitudes(x, hann []float64, w float64, n int) []float64 {
	tapered := make([]float64, len(hann))
	for i, h := range hann {
		tapered[i] = h * x[i]
	}
	out := make([]float64, 0, n+3)
	for p := 1; p <= n; p += 4 {
		for _, a := range goertzel(tapered, w*float64(p), w) {
			out = append(out, 4*a/float64(len(x)))
		}
	}
	return out[:n]
}

// goertzel is the magnitude of the Fourier sum of x at w, w+step, w+2 step and
// w+3 step radians a sample (Goertzel 1958, "An algorithm for the evaluation of
// finite trigonometric series"); four at once keep the processor busy.
func goertzel(x []float64, w, step float64) [4]float64 {
	a, b, c, d := 2*math.Cos(w), 2*math.Cos(w+step), 2*math.Cos(w+2*step), 2*math.Cos(w+3*step)
	var a1, b1, c1, d1, a2, b2, c2, d2 float64
	for _, v := range x {
		a1, a2 = v-a2+a*a1, a1
		b1, b2 = v-b2+b*b1, b1
		c1, c2 = v-c2+c*c1, c1
		d1, d2 = v-d2+d*d1, d1
	}
	magnitude := func(s1, s2, twice float64) float64 { return math.Sqrt(max(0, s1*s1+s2*s2-twice*s1*s2)) }
	return [4]float64{magnitude(a1, a2, a), magnitude(b1, b2, b), magnitude(c1, c2, c), magnitude(d1, d2, d)}
}
