// Package effect puts a room, an amplifier or an old record over a rendered
// harp. Every function takes mono samples at a rate in samples per second and
// returns new samples of the same length at the same loudness (RMS), so that
// effects can be chained in any order without watching levels.
package effect

import (
	"math"
	"math/rand/v2"

	"blowdraw/decode/resample"
)

// Room describes a reverberant room.
type Room struct {
	// T60 is the time in which the reverberation falls by 60 dB, in seconds,
	// at low and middle frequencies; above 3 kHz it is about half of that.
	T60 float64
	// Direct is the direct-to-reverberant energy ratio in dB: how close the
	// microphone is.
	Direct float64
	// PreDelay is the time in seconds before the first reflection.
	PreDelay float64
	// Seed varies the room's reflections.
	Seed uint64
}

// Reverb plays x in a room: a feedback delay network of twelve lines with a
// Householder feedback matrix and a one-pole absorption filter per line
// (Jot & Chaigne 1991, "Digital delay networks for designing artificial
// reverberators", AES Convention 90).
func Reverb(x []float64, rate int, room Room) []float64 {
	wet := newNetwork(rate, room).run(x)
	// Scale the tail by the network's own energy for an impulse.
	impulse := make([]float64, int(max(room.T60, 0.3)*float64(rate)))
	impulse[0] = 1
	energy := 0.0
	for _, v := range newNetwork(rate, room).run(impulse) {
		energy += v * v
	}
	gain := math.Pow(10, -room.Direct/20) / math.Sqrt(energy)
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] + gain*wet[i]
	}
	return sameLoudness(out, x)
}

// network is the running state of the feedback delay network.
type network struct {
	pre   []float64
	prePt int
	lines []line
}

type line struct {
	buf          []float64
	at           int
	sign         float64
	gain, damp   float64
	lowpassState float64
}

func newNetwork(rate int, room Room) *network {
	rng := rand.New(rand.NewPCG(room.Seed, 77))
	n := &network{pre: make([]float64, 1+int(room.PreDelay*float64(rate)))}
	const count = 12
	for i := range count {
		// Delays from 23 to 83 ms in even ratios, each moved a little.
		s := 0.023 * math.Pow(83.0/23, (float64(i)+0.8*rng.Float64())/count)
		size := int(s * float64(rate))
		low := math.Pow(10, -3*s/room.T60)
		high := math.Pow(10, -3*s/(room.T60/2))
		// One-pole lowpass with gain low at 0 Hz and about high at 6 kHz.
		sign := 1.0
		if rng.IntN(2) == 0 {
			sign = -1
		}
		n.lines = append(n.lines, line{
			buf: make([]float64, size), sign: sign, gain: low,
			damp: dampFor(high/low, 6000, rate),
		})
	}
	return n
}

// dampFor is the pole p of (1-p)/(1-p/z) whose gain at hz is ratio.
func dampFor(ratio, hz float64, rate int) float64 {
	c := math.Cos(2 * math.Pi * hz / float64(rate))
	lo, hi := 0.0, 0.999
	for range 50 {
		p := (lo + hi) / 2
		if (1-p)/math.Sqrt(1-2*p*c+p*p) > ratio {
			lo = p
		} else {
			hi = p
		}
	}
	return lo
}

func (n *network) run(x []float64) []float64 {
	out := make([]float64, len(x))
	tail := make([]float64, len(n.lines))
	for i, v := range x {
		in := n.pre[n.prePt]
		n.pre[n.prePt] = v
		n.prePt = (n.prePt + 1) % len(n.pre)
		var sum, mix float64
		for k := range n.lines {
			l := &n.lines[k]
			l.lowpassState += (1 - l.damp) * (l.buf[l.at] - l.lowpassState)
			tail[k] = l.gain * l.lowpassState
			sum += tail[k]
			mix += l.sign * tail[k]
		}
		for k := range n.lines {
			l := &n.lines[k]
			l.buf[l.at] = in + tail[k] - 2*sum/float64(len(n.lines))
			l.at = (l.at + 1) % len(l.buf)
		}
		out[i] = mix
	}
	return out
}

// Amp describes an overdriven valve amplifier with a small speaker.
type Amp struct {
	// Drive is how far the loud parts are pushed past the knee, in dB.
	Drive float64
	// Bias makes the clipping uneven, 0 to about 0.4: more even harmonics.
	Bias float64
	// Low and High are the speaker's band in Hz.
	Low, High float64
}

// Overdrive plays x through an amplifier: highpass, a hyperbolic-tangent
// stage at four times the rate (against aliasing), then the speaker's band.
// Two reeds sounded together come out with their sum and difference tones.
func Overdrive(x []float64, rate int, amp Amp) []float64 {
	y := highpass(x, rate, 120)
	gain := math.Pow(10, amp.Drive/20) / max(loudest(y, rate), 1e-9)
	up := convert(y, rate, 4*rate)
	rest := math.Tanh(amp.Bias)
	for i, v := range up {
		up[i] = math.Tanh(gain*v+amp.Bias) - rest
	}
	y = convert(up, 4*rate, rate)
	y = highpass(highpass(y, rate, amp.Low), rate, amp.Low)
	y = lowpass(lowpass(y, rate, amp.High), rate, amp.High)
	return sameLoudness(y, x)
}

// convert resamples x. The rates are rates of sound, so it cannot fail.
func convert(x []float64, from, to int) []float64 {
	y, err := resample.Convert(x, from, to)
	if err != nil {
		panic(err)
	}
	return y
}

// loudest is the highest RMS of any 50 ms of x.
func loudest(x []float64, rate int) float64 {
	n := rate / 20
	var top float64
	for i := 0; i+n <= len(x); i += n {
		top = max(top, RMS(x[i:i+n]))
	}
	return top
}

// Disc describes an old record and the machine that plays it.
type Disc struct {
	// Low and High are the band in Hz.
	Low, High float64
	// Noise is the level of surface noise against the music, in dB.
	Noise float64
	// Clicks is how many clicks a second.
	Clicks float64
	// Wow is the swing of the pitch in cents each way, once a turn (78 a minute).
	Wow float64
	// Seed varies the noise and the clicks.
	Seed uint64
}

// Record plays x from an old record: wow, a narrow band, surface noise in the
// same band, and clicks.
func Record(x []float64, rate int, disc Disc) []float64 {
	rng := rand.New(rand.NewPCG(disc.Seed, 78))
	y := wow(x, rate, disc.Wow, rng.Float64())
	noise := math.Pow(10, disc.Noise/20) * RMS(x)
	for i := range y {
		y[i] += 2 * noise * rng.NormFloat64()
		if rng.Float64() < disc.Clicks/float64(rate) {
			y[i] += 40 * noise * rng.NormFloat64()
		}
	}
	y = highpass(highpass(y, rate, disc.Low), rate, disc.Low)
	y = lowpass(lowpass(y, rate, disc.High), rate, disc.High)
	return sameLoudness(y, x)
}

// wow reads x at an uneven speed; phase (0 to 1) is where the turn begins.
// Times shift by less than a millisecond at 10 cents.
func wow(x []float64, rate int, cents, phase float64) []float64 {
	const turns = 78.0 / 60
	speed := math.Pow(2, cents/1200) - 1
	swing := speed / (2 * math.Pi * turns) * float64(rate) // samples
	y := make([]float64, len(x))
	for i := range y {
		t := float64(i) / float64(rate)
		at := float64(i) + swing*math.Sin(2*math.Pi*(turns*t+phase))
		y[i] = readAt(x, at)
	}
	return y
}

// readAt interpolates x at a fractional index (cubic Hermite, Catmull-Rom).
func readAt(x []float64, at float64) float64 {
	i := int(math.Floor(at))
	f := at - float64(i)
	p := func(k int) float64 { return x[min(max(k, 0), len(x)-1)] }
	a, b, c, d := p(i-1), p(i), p(i+1), p(i+2)
	return b + f/2*(c-a+f*(2*a-5*b+4*c-d+f*(3*(b-c)+d-a)))
}

// RMS is the root of the mean square of x, 0 for none.
func RMS(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(max(len(x), 1)))
}

// sameLoudness scales y in place to the RMS of x.
func sameLoudness(y, x []float64) []float64 {
	g := RMS(x) / max(RMS(y), 1e-12)
	for i := range y {
		y[i] *= g
	}
	return y
}
