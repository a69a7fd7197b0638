package clips

import (
	"math"
	"math/rand/v2"

	"blowdraw/pitch"
)

// vowels are the first three formants in Hz of men's vowels (Peterson & Barney
// 1952, "Control methods used in a study of the vowels", JASA 24(2), table II,
// from memory).
var vowels = [][3]float64{
	{270, 2290, 3010}, {390, 1990, 2550}, {530, 1840, 2480}, {660, 1720, 2410}, {730, 1090, 2440},
	{570, 840, 2410}, {440, 1020, 2240}, {300, 870, 2240}, {640, 1190, 2390}, {490, 1350, 1690},
}

// bandwidths of the formants in Hz, the fourth fixed at fourthFormant (Klatt
// 1980, "Software for a cascade/parallel formant synthesizer", JASA 67(3)).
var bandwidths = [4]float64{60, 90, 130, 200}

const fourthFormant = 3500 // Hz

// singer is who sings or speaks.
type singer struct {
	tract   float64 // formants against a man's
	lowest  int     // MIDI number of the lowest note
	vibrato float64 // Hz
	cents   float64 // depth of the vibrato, each way
	glide   float64 // s from one note to the next
	breath  float64 // noise against the pulses
}

func newSinger(rng *rand.Rand) singer {
	s := singer{tract: 1, lowest: 48 + rng.IntN(6), vibrato: 4.5 + 2*rng.Float64(), cents: 15 + 70*rng.Float64(),
		glide: 0.05 + 0.12*rng.Float64(), breath: 0.005 + 0.03*rng.Float64()}
	if rng.IntN(2) == 0 {
		s.tract, s.lowest = 1.12+0.08*rng.Float64(), 57+rng.IntN(6)
	}
	return s
}

// syllable is a stretch of voice on one vowel. Times are seconds, MIDI
// fractional. Hiss is how long the consonant before it hisses.
type syllable struct {
	start, end float64
	midi, fall float64 // fall: semitones that the pitch sinks over the syllable
	hiss       float64
	vowel      [3]float64
	level      float64 // dB
}

// verse makes syllables for so many seconds: sung to the scale (semitones above
// key), or spoken.
func (s singer) verse(rng *rand.Rand, seconds float64, key int, scale []int, spoken bool) []syllable {
	var out []syllable
	at, t := rng.IntN(len(scale)), 0.2*rng.Float64()
	for t < seconds-1 {
		words, top := 4+rng.IntN(7), 3+2*rng.Float64()
		for i := range words {
			length := 0.15 + 0.45*rng.Float64()*rng.Float64()
			midi, fall := s.note(key, scale, at), 0.0
			at += rng.IntN(5) - 2
			if i == words-1 {
				length += 0.9 * rng.Float64()
			}
			if spoken {
				length = 0.11 + 0.16*rng.Float64()
				midi = float64(s.lowest) + top*(1-float64(i)/float64(words)) + rng.NormFloat64()
				fall = 1 + 3*rng.Float64()
			}
			if t+length > seconds-0.1 {
				return out
			}
			hiss := 0.0
			if rng.IntN(3) == 0 {
				hiss = 0.03 + 0.07*rng.Float64()
			}
			out = append(out, syllable{t, t + length, midi, fall, hiss, vowels[rng.IntN(len(vowels))],
				3 * rng.NormFloat64()})
			t += length
			if rng.IntN(3) == 0 {
				t += 0.02 + 0.06*rng.Float64()
			}
		}
		t += 0.3 + 0.9*rng.Float64()
	}
	return out
}

// note is degree at of the scale, at or above the singer's lowest note.
func (s singer) note(key int, scale []int, at int) float64 {
	n := len(scale)
	at = (at%(2*n) + 2*n) % (2 * n)
	first := s.lowest + ((key-s.lowest)%12+12)%12
	return float64(first + 12*(at/n) + scale[at%n] - 5)
}

// resonator is a digital resonator (Klatt 1980).
type resonator struct{ a, b, c, y1, y2 float64 }

func (r *resonator) tune(hz, bandwidth float64) {
	r.c = -math.Exp(-2 * math.Pi * bandwidth / Rate)
	r.b = 2 * math.Exp(-math.Pi*bandwidth/Rate) * math.Cos(2*math.Pi*hz/Rate)
	r.a = 1 - r.b - r.c
}

func (r *resonator) next(x float64) float64 {
	y := r.a*x + r.b*r.y1 + r.c*r.y2
	r.y2, r.y1 = r.y1, y
	return y
}

// speak sounds syllables: pulses through four formants in a row, with glides
// from syllable to syllable, vibrato on long ones, and hisses before some.
func (s singer) speak(rng *rand.Rand, words []syllable, seconds float64) []float64 {
	out := make([]float64, int(seconds*Rate))
	var formants [4]resonator
	var glottis [2]float64 // one-pole lowpasses: 12 dB an octave
	formant, midi := words[0].vowel, words[0].midi-2
	drift, phase, gain, hiss := 0.0, 0.0, 0.0, 0.0
	word := 0
	for i := range out {
		t := float64(i) / Rate
		for word+1 < len(words) && t >= words[word+1].start {
			word++
		}
		w := words[word]
		if i%32 == 0 {
			want, wantHiss := 0.0, 0.0
			if t >= w.start && t < w.end {
				want = math.Pow(10, w.level/20)
			}
			if t >= w.start && t < w.start+w.hiss {
				want, wantHiss = 0, 0.4
			}
			slow := 32 / Rate / s.glide
			drift += 0.02*rng.NormFloat64() - 0.02*drift
			midi += min(1, 3*slow) * (s.aim(w, t) + drift - midi)
			for k := range formant {
				formant[k] += min(1, 2*slow) * (w.vowel[k] - formant[k])
				formants[k].tune(s.tract*formant[k], bandwidths[k])
			}
			formants[3].tune(s.tract*fourthFormant, bandwidths[3])
			gain += 0.12 * (want - gain)
			hiss += 0.2 * (wantHiss - hiss)
		}
		phase += pitch.MIDIToHz(midi) / Rate
		x := s.breath * rng.NormFloat64()
		if phase >= 1 {
			phase--
			x++
		}
		for k := range glottis {
			glottis[k] += 0.08 * (x - glottis[k])
			x = glottis[k]
		}
		x *= gain
		for k := range formants {
			x = formants[k].next(x)
		}
		out[i] = x + 0.02*hiss*rng.NormFloat64()
	}
	return out
}

// aim is the pitch that the voice strives for.
func (s singer) aim(w syllable, t float64) float64 {
	into := t - w.start
	midi := w.midi - w.fall*into/(w.end-w.start)
	if w.end-w.start > 0.35 && w.fall == 0 {
		midi += s.cents / 100 * min(1, into/0.4) * math.Sin(2*math.Pi*s.vibrato*into)
	}
	return midi
}
