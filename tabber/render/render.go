// Package render sounds harmonica notes: a plain list of notes goes in, mono
// samples come out.
//
// A free reed chops the player's breath into a strictly periodic train of
// puffs, so its tone is a full set of harmonic partials, strong far up, with
// no inharmonicity (Fletcher & Rossing 1998, "The Physics of Musical
// Instruments", 2nd edition, section 13.4). The synthesizer therefore adds
// harmonic partials. Which levels they have differs from reed to reed and
// stays the same whenever the same reed sounds: a reed is drawn once from the
// number of its set and its own number (see Set). Over the partials lie two
// gentle resonances that belong to the whole harp and the hands around it,
// and a breath noise.
//
// The model of one note:
//
//	gain:   attack ─ level (with swell and vibrato) ─ release
//	pitch:  MIDI + scoop + contour + vibrato + a drift of a few cents
//	tone:   partial n is a[n] · gain · bright^(n-1); bright falls with the
//	        gain, so a soft tone and the first moments of a note are darker
//
// Everything is deterministic: the same notes, set and rate give the same
// samples.
package render

import (
	"math"
	"math/rand/v2"

	"blowdraw/pitch"
)

// Point is one corner of a contour. At is in seconds from the start of the
// note; the unit of Value is the contour's.
type Point struct {
	At, Value float64
}

// Note is one reed sounding once. Several notes at a time are double stops,
// splits and chords.
type Note struct {
	// Start is when the reed speaks and End when the breath stops, both in
	// seconds. At Start the tone is 26 dB under its full level and rising; at
	// End it begins to die away.
	Start, End float64
	// MIDI is the steady pitch as a fractional MIDI number.
	MIDI float64
	// Reed tells the reeds of a set apart: the same number, the same partials.
	Reed int
	// Level is the loudness in dB; 0 dB is a full tone (RMS 0.1 of full scale).
	Level float64
	// Attack and Release are the seconds from Start to full level, and from
	// End to silence.
	Attack, Release float64
	// Scoop is how many cents below MIDI the note begins, ScoopTime how many
	// seconds it takes to arrive.
	Scoop, ScoopTime float64
	// VibratoHz is the rate of the throat vibrato, VibratoCents and VibratoDB
	// its depth each way. It grows over the first 0.3 s.
	VibratoHz, VibratoCents, VibratoDB float64
	// Contour bends the pitch: cents to add to MIDI. Swell does the same to
	// the level, in dB. Between points the curve is smooth, outside it is flat.
	Contour, Swell []Point
	// Dark lowers the upper partials, in dB per octave, as a bend does.
	Dark float64
	// Hands is how far the hands close round the harp: 0 open, 1 closed. See Cutoff.
	Hands []Point
	// Puff is the burst of air as the tongue lets the breath go, in dB against the
	// full tone; 0 for none. It dies away within puffTime.
	Puff float64
}

// Set is one harp's worth of reeds.
type Set struct {
	// Seed picks the reeds.
	Seed uint64
	// Breath is the level of the breath noise against the tone, in dB;
	// 0 means the usual -40.
	Breath float64
}

const (
	fullTone   = 0.1   // RMS of a note at 0 dB
	speaks     = 0.05  // gain at Start: -26 dB
	preRamp    = 0.004 // s, from silence to speaks
	minFade    = 0.005 // s, shortest attack and release
	growTime   = 0.3   // s, for vibrato to grow
	block      = 32    // samples between two evaluations of the slow curves
	maxPartial = 48
	puffTime   = 0.02   // s
	openHz     = 9000.0 // corner of the hands' lowpass when they are open,
	closedHz   = 700.0  // and when they are closed
	closedDB   = -2     // level of what passes closed hands
)

// Gain is the amplitude of the note at t seconds (on the clock of Start) as a
// factor on its steady level at 0 dB; it includes Level, Swell and the
// loudness part of the vibrato.
func (n Note) Gain(t float64) float64 {
	at := t - n.Start
	attack, release := max(n.Attack, minFade), max(n.Release, minFade)
	var g float64
	switch {
	case at < -preRamp || t >= n.End+release:
		return 0
	case at < 0:
		g = speaks * (1 + at/preRamp)
	case at < attack:
		// A raised cosine entered where it has reached speaks.
		x0 := 2 / math.Pi * math.Asin(math.Sqrt(speaks))
		s := math.Sin(math.Pi / 2 * (x0 + (1-x0)*at/attack))
		g = s * s
	default:
		g = 1
	}
	if t > n.End {
		c := math.Cos(math.Pi / 2 * (t - n.End) / release)
		g *= c * c
	}
	db := n.Level + curve(n.Swell, at) + n.VibratoDB*n.vibrato(at) + closedDB*curve(n.Hands, at)
	return g * math.Pow(10, db/20)
}

// Pitch is the fractional MIDI number of the note at t seconds (on the clock
// of Start), without the small drift that the synthesizer adds.
func (n Note) Pitch(t float64) float64 {
	at := t - n.Start
	cents := curve(n.Contour, at) + n.VibratoCents*n.vibrato(at)
	if n.ScoopTime > 0 && at < n.ScoopTime {
		cents -= n.Scoop * (1 - smooth(max(at, 0)/n.ScoopTime))
	}
	return n.MIDI + cents/100
}

// Cutoff is the corner frequency in Hz of the lowpass of second order that the hands
// are at t seconds (on the clock of Start); infinite for a note without Hands.
func (n Note) Cutoff(t float64) float64 {
	if len(n.Hands) == 0 {
		return math.Inf(1)
	}
	return openHz * math.Pow(closedHz/openHz, curve(n.Hands, t-n.Start))
}

// Air is the RMS of the burst of air at t seconds, as a factor on a full tone's.
func (n Note) Air(t float64) float64 {
	at := t - n.Start
	if n.Puff == 0 || at < 0 || at > 5*puffTime {
		return 0
	}
	return math.Pow(10, (n.Puff+n.Level)/20) * min(at/0.003, 1) * math.Exp(-at/puffTime)
}

// Stop is when the note has died away, in seconds.
func (n Note) Stop() float64 { return n.End + max(n.Release, minFade) }

// vibrato is the vibrato's swing at at seconds into the note, -1 to 1.
func (n Note) vibrato(at float64) float64 {
	if n.VibratoHz <= 0 || at <= 0 {
		return 0
	}
	return smooth(at/growTime) * math.Sin(2*math.Pi*n.VibratoHz*at)
}

// curve reads a contour at t: flat before the first and after the last point.
func curve(points []Point, t float64) float64 {
	if len(points) == 0 {
		return 0
	}
	if t <= points[0].At {
		return points[0].Value
	}
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		if t < b.At {
			return a.Value + (b.Value-a.Value)*smooth((t-a.At)/(b.At-a.At))
		}
	}
	return points[len(points)-1].Value
}

// smooth runs from 0 to 1 with flat ends as x does; outside it is clamped.
func smooth(x float64) float64 {
	x = min(max(x, 0), 1)
	return x * x * (3 - 2*x)
}

// Render sounds the notes with the given set of reeds at rate samples per
// second. The result is mono, begins at time 0, ends when the last note has
// died away, and stays within ±1 (see Limit).
func Render(notes []Note, set Set, rate int) []float64 {
	var stop float64
	for _, n := range notes {
		stop = max(stop, n.Stop())
	}
	out := make([]float64, int(math.Ceil(stop*float64(rate))))
	for i, n := range notes {
		add(out, n, set, uint64(i), rate)
	}
	Limit(out, rate, 0.89)
	return out
}

// add mixes one note into out. serial tells its noise and drift from those of
// the other notes.
func add(out []float64, n Note, set Set, serial uint64, rate int) {
	amp, phase := reedTone(set.Seed, n, rate)
	rng := rand.New(rand.NewPCG(set.Seed^0x9e3779b97f4a7c15, serial))
	breath := newBreath(set, rng, rate)
	drift := drifter{rng: rng}
	coef := make([]complex128, len(amp))
	for k := range amp {
		s, c := math.Sincos(phase[k])
		coef[k] = complex(amp[k]*c, amp[k]*s)
	}
	from := max(int((n.Start-preRamp)*float64(rate)), 0)
	to := min(int(math.Ceil(n.Stop()*float64(rate))), len(out))
	var angle float64
	for i := from; i < to; i += block {
		t0, t1 := float64(i)/float64(rate), float64(i+block)/float64(rate)
		g0, g1 := n.Gain(t0), n.Gain(t1)
		cents := drift.next()
		hz := pitch.MIDIToHz(n.Pitch((t0+t1)/2) + cents/100)
		step := 2 * math.Pi * hz / float64(rate)
		now, puff := coef, n.Air(t0)
		if cut := n.Cutoff(t0); !math.IsInf(cut, 1) {
			now = muffled(coef, hz, cut)
		}
		for j := i; j < min(i+block, to); j++ {
			x := float64(j-i) / block
			g := g0 + (g1-g0)*x
			angle += step
			air := breath.next()
			out[j] += fullTone * (g*(tone(now, angle, bright(g))+air) + puff*breath.unit*air)
		}
		angle = math.Mod(angle, 2*math.Pi)
	}
}

// muffled are the partials of a tone behind a lowpass of second order (Butterworth's
// magnitude).
func muffled(coef []complex128, hz, cut float64) []complex128 {
	out := make([]complex128, len(coef))
	for k, c := range coef {
		x := float64(k+1) * hz / cut
		out[k] = c * complex(1/math.Sqrt(1+x*x*x*x), 0)
	}
	return out
}

// bright is how far each partial stands against the one below, by gain: a
// tone 20 dB softer has its tenth partial about 8 dB weaker still.
func bright(gain float64) float64 {
	return 1 - 0.1*(1-math.Sqrt(min(gain, 1)))
}

// tone sums the partials at a phase of the fundamental: partial k+1 turns k+1
// times as fast and is scaled by bright^k.
func tone(coef []complex128, angle, bright float64) float64 {
	s, c := math.Sincos(angle)
	z, w := complex(c, s), complex(bright*c, bright*s)
	var sum float64
	for _, a := range coef {
		sum += real(a)*imag(z) + imag(a)*real(z)
		z *= w
	}
	return sum
}
