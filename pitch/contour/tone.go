package contour

import (
	"math"
	"slices"

	"blowdraw/pitch"
)

// Brighten is a change of tone at the front of a note from dark to what it is like in
// its middle, such as hands make that open. Tone is how the levels of the partials
// incline against the middle of the note, in dB an octave above toneFrom: hands round
// the harp take away more the higher a partial lies, whatever the note is, and leave the
// bottom as loud as it was. Partials up to toneTo that stand out from what is beside them
// count, against their medians in the middle; a straight line through them over octaves
// (least squares) is the tone.
type Brighten struct {
	DB, Seconds float64 // by how much at two octaves above toneFrom; how long it takes
	Dark        float64 // area in dB an octave times seconds
	DarkLoud    float64 // the same, each moment counting as much as the bottom is loud
	Surely      float64 // dB an octave where it is darkest, counting as the bottom's amplitude is
	Bottom      float64 // mean level in dB of the bottom meanwhile, against the middle
	Soft        float64 // mean of what it is softer by, in dB
	Spread      float64 // standard deviation of the tone in the middle, in dB an octave
	Uneven      float64 // median step there from frame to frame
	Even        float64 // the way to bright as a share of all change of tone on it
}

// Slope is how much darker it begins, in dB an octave.
func (b Brighten) Slope() float64 { return b.DB / 2 }

const (
	toneFrom    = 700.0  // Hz: hands leave what is below alone
	toneTo      = 8000.0 // Hz
	leastClear  = 4.0    // times the power of what is beside a partial that counts
	softest     = 1e-4   // of the power in the middle; what has less counts as this
	leastSpread = 0.4    // octaves squared that the partials must be apart, in sum
	leastHands  = 21     // frames of a note whose tone is looked at
	handFrames  = 43     // hands that take longer do not begin the note
	toneNear    = 1.0    // dB an octave that count as there, or
	toneShare   = 0.3    // of the darkest, if that is more
)

// Hands are the changes of tone at the front of a note and, told from the end backwards,
// at its end. L is the note near hz, followed; it begins in its frame from and ends
// before frame to; frames that follow it in s may be its end, too. Zero for a note that
// is too short or has too few partials.
func (s Spectra) Hands(l Line, hz float64, from, to int) (opening, closing Brighten) {
	if to-from < leastHands {
		return
	}
	c := s.comb(l, hz)
	var order []int
	for i := from; i < to; i++ {
		order = append(order, i)
	}
	opening = c.brighten(order, 0)
	for i := to; i < len(c.power); i++ {
		order = append(order, i)
	}
	slices.Reverse(order)
	return opening, c.brighten(order, len(c.power)-to)
}

// comb is the power of a note's partials in every frame.
type comb struct {
	s       Spectra
	bin     []float64 // of the note in every frame
	octaves []float64 // above toneFrom of each partial, 0 below it
	power   [][]float64
}

func (s Spectra) comb(l Line, hz float64) comb {
	c := comb{s: s}
	for h := 1.0; h*hz < toneTo; h++ {
		c.octaves = append(c.octaves, math.Log2(max(h*hz/toneFrom, 1)))
	}
	n := len(c.octaves)
	all := make([]float64, n*len(s.power))
	for i := range s.power {
		cents := l.Cents[min(max(i+s.First-l.First, 0), len(l.Cents)-1)]
		c.bin = append(c.bin, hz*math.Exp2(cents/1200)/binHz)
		c.power = append(c.power, all[n*i:][:n:n])
		for k := range c.power[i] {
			c.power[i][k] = s.near(i, c.bin[i]*float64(k+1))
		}
	}
	return c
}

// near is the power in frame i of a tone near a bin.
func (s Spectra) near(i int, bin float64) float64 {
	k, p := int(math.Round(bin)), 1e-12
	for j := max(k-1, 0); j <= min(k+1, bins-1); j++ {
		p += float64(s.power[i][j]) / 1.5 // a Hann window spreads a tone so
	}
	return p
}

// middles are the median powers of the partials in the given frames; 0 for one that does
// not stand out there.
func (c comb) middles(frames []int) []float64 {
	out := make([]float64, len(c.octaves))
	var own, beside []float64
	for k := range out {
		own, beside = own[:0], beside[:0]
		for _, i := range frames {
			own, beside = append(own, c.power[i][k]), append(beside, c.s.near(i, c.bin[i]*(float64(k)+1.5)))
		}
		if m := pitch.Median(own); m > leastClear*pitch.Median(beside) {
			out[k] = m
		}
	}
	return out
}

// tones are the tone and the level of the bottom in the given frames, against the
// middles: a straight line through the partials by least squares. None if too few stand
// out.
func (c comb) tones(frames []int, middles []float64) (tone, bottom []float64) {
	n, mean, spread := 0.0, 0.0, 0.0
	for k, m := range middles {
		if m > 0 {
			n, mean, spread = n+1, mean+c.octaves[k], spread+c.octaves[k]*c.octaves[k]
		}
	}
	mean /= max(n, 1)
	if spread -= n * mean * mean; spread < leastSpread {
		return nil, nil
	}
	for _, i := range frames {
		sum, product := 0.0, 0.0
		for k, m := range middles {
			if m > 0 {
				off := 10 * math.Log10(max(c.power[i][k]/m, softest))
				sum, product = sum+off, product+off*(c.octaves[k]-mean)
			}
		}
		tone = append(tone, product/spread)
		bottom = append(bottom, sum/n-product/spread*mean)
	}
	return tone, bottom
}

// brighten looks at frames in the given order, of which the first may be before the note
// begins.
func (c comb) brighten(order []int, before int) Brighten {
	note := len(order) - before
	middle := order[before+note/2-note/12 : len(order)-note/6]
	tone, bottom := c.tones(order, c.middles(middle))
	if tone == nil {
		return Brighten{}
	}
	smooth, level := medians(tone), medians(bottom)
	reach, first := before+min(handFrames, note/2), 0
	for first < reach-1 && level[first] < -audible {
		first++
	}
	b, darkest := Brighten{}, first
	for i := first; i < reach; i++ {
		if sure := -min(smooth[i], 0) * min(1, math.Pow(10, level[i]/20)); sure > b.Surely {
			b.Surely, darkest = sure, i
		}
	}
	b.DB = 2 * max(0, -smooth[darkest])
	there := min(-toneNear, toneShare*smooth[darkest])
	from, to := darkest, darkest
	for from > first && smooth[from-1] < there {
		from--
	}
	for to < reach && smooth[to] < there {
		to++
	}
	b.Seconds, b.Even = float64(to-from)*pitch.HopSeconds, evenness(smooth[darkest:min(to+1, len(smooth))])
	b.over(tone[from:to], bottom[from:to])
	b.rest(tone, smooth, before+note/2-note/12, len(order)-note/6)
	return b
}

// over sums up the frames that are dark.
func (b *Brighten) over(tone, bottom []float64) {
	for i := range tone {
		dark := max(0, -tone[i]) * pitch.HopSeconds
		b.Dark, b.DarkLoud = b.Dark+dark, b.DarkLoud+dark*min(1, math.Pow(10, bottom[i]/10))
		b.Bottom += bottom[i] / float64(len(tone))
		b.Soft += max(0, -bottom[i]) / float64(len(tone))
	}
}

// rest is how the tone moves in the middle.
func (b *Brighten) rest(tone, smooth []float64, from, to int) {
	var steps []float64
	mean, square := 0.0, 0.0
	for i := from; i < to; i++ {
		if i > from {
			steps = append(steps, math.Abs(tone[i]-tone[i-1]))
		}
		mean, square = mean+smooth[i], square+smooth[i]*smooth[i]
	}
	n := float64(to - from)
	b.Spread, b.Uneven = math.Sqrt(max(0, square/n-mean*mean/(n*n))), pitch.Median(steps)
}

// evenness is the way from the first value up to the last as a share of all movement.
func evenness(x []float64) float64 {
	way := 1e-9
	for i := 1; i < len(x); i++ {
		way += math.Abs(x[i] - x[i-1])
	}
	return max(0, x[len(x)-1]-x[0]) / way
}

// medians are those of each value and its neighbours.
func medians(x []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		a, b, c := x[max(i-1, 0)], x[i], x[min(i+1, len(x)-1)]
		out[i] = max(min(a, b), min(max(a, b), c))
	}
	return out
}

// freeBins lists the bins from low to high Hz that no partial of the reeds is near.
func freeBins(reeds []float64, low, high float64) []int {
	var free []int
	for k := range bins {
		f := float64(k) * binHz
		apart := f >= low && f < high
		for _, hz := range reeds {
			apart = apart && math.Abs(f-math.Round(f/hz)*hz) > clash*binHz
		}
		if apart {
			free = append(free, k)
		}
	}
	return free
}

// Frequencies in Hz between which air is heard.
const airLow, airHigh = 2000.0, 8000.0

// Air is in each frame the level in dB of what lies between the partials of the reeds
// (Hz), per bin: breath, and the click of a sudden start. -120 where partials leave
// nothing free.
func (s Spectra) Air(reeds []float64) []float64 {
	free := freeBins(reeds, airLow, airHigh)
	out := make([]float64, len(s.power))
	for i := range out {
		sum := 0.0
		for _, k := range free {
			sum += math.Log10(float64(s.power[i][k]) + 1e-12)
		}
		if out[i] = -120; len(free) > 0 {
			out[i] = 10 * sum / float64(len(free))
		}
	}
	return out
}
