package bars

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"blowdraw/decode/parallel"
	"blowdraw/decode/programs/fluidsynth"
	"blowdraw/onset"
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
)

const rate = fluidsynth.Rate // Hz

// take is a rendered section of a gig as a transcription hands it on, and its truth.
type take struct {
	*gig
	sound    form.Sound
	strength beat.Strength
	heard    []form.Note // of the player, as a transcriber may find them
	seconds  float64     // length
	beats    []float64   // true ones, s
	first    int         // index in beats of a bar's first
	before   float64     // s of the gig before the section
	harpDB   float64     // of the player against the band

	wander, sway, turn float64 // how the tempo wanders: beats either way, beats of a period, phase
}

// found is a transcriber's view of the player's notes: some left out, starts
// misplaced a little.
func found(rng *rand.Rand, notes []form.Note) []form.Note {
	var out []form.Note
	for _, n := range notes {
		if rng.Float64() < 0.06 {
			continue
		}
		n.Start += 0.008 * rng.NormFloat64()
		out = append(out, n)
	}
	slices.SortFunc(out, func(a, b form.Note) int { return cmp.Compare(a.Start, b.Start) })
	return out
}

// Takes are so many of these grooves in turn, made from a seed with one of the sound
// banks; in a room, or dry.
type Takes struct {
	Grooves []string
	Seed    uint64
	N       int
	Bank    string
	Room    bool
}

// render makes takes, in one run of fluidsynth for the bands and one for the players.
func (set Takes) render() ([]take, error) {
	rng := rand.New(rand.NewPCG(set.Seed, 21))
	var out []take
	var bands, harps fluidsynth.Score
	var starts []float64
	at := 0.5
	for i := range set.N {
		k := newTake(rng, set.Grooves[i%len(set.Grooves)])
		bands.Events = append(bands.Events, k.events(k.band, at)...)
		harps.Events = append(harps.Events, k.events(k.harp, at)...)
		k.count()
		k.heard = found(rng, k.inside())
		starts = append(starts, at)
		out = append(out, k)
		at += k.before + k.seconds + 2
	}
	band, err := bands.Play(inMilliseconds, fluidsynth.Sound{Bank: set.Bank, Reverb: set.Room, Gain: 0.4})
	if err != nil {
		return nil, fmt.Errorf("rendering bands: %w", err)
	}
	harp, err := harps.Play(inMilliseconds, fluidsynth.Sound{Bank: set.Bank, Reverb: true, Gain: 0.4})
	if err != nil {
		return nil, fmt.Errorf("rendering players: %w", err)
	}
	for i := range out {
		out[i].hear(rng, band, harp, starts[i])
	}
	return out, nil
}

// inMilliseconds is the tempo at which a tick is a millisecond: 480 a beat at 125 beats a
// minute.
const inMilliseconds = 125

// newTake makes up a take, not heard yet.
func newTake(rng *rand.Rand, groove string) take {
	k := take{before: 4 * rng.Float64(), seconds: 12 + 13*rng.Float64(), harpDB: -3 + 11*rng.Float64()}
	k.gig = newGig(rng, groove, 3+int((k.before+k.seconds)*180/60/4))
	k.wander, k.sway, k.turn = 0.12*rng.Float64(), 20+40*rng.Float64(), 6*rng.Float64()
	return k
}

// when is the time of a beat of the gig in seconds; the tempo wanders.
func (k take) when(b float64) float64 {
	return 60 / k.bpm * (b + k.wander*(math.Sin(2*math.Pi*b/k.sway+k.turn)-math.Sin(k.turn)))
}

// events of a score up to the end of the take, which begins at so many seconds; a tick is
// a millisecond.
func (k take) events(s *fluidsynth.Score, at float64) (out []fluidsynth.Event) {
	end := k.before + k.seconds
	for _, e := range s.Events {
		if w := k.when(float64(e.Tick) / fluidsynth.PerBeat); w < end+0.5 || e.Data[0]&0xf0 == 0x80 {
			out = append(out, fluidsynth.Event{Tick: int(1000*(at+min(w, end+0.6)) + 0.5), Data: e.Data})
		}
	}
	return out
}

// count tells the true beats of the section.
func (k *take) count() {
	for b := 0; ; b++ {
		w := k.when(float64(b)) - k.before
		if w > k.seconds {
			return
		}
		if w < 0 {
			continue
		}
		if len(k.beats) == 0 {
			k.first = (4 - b%4) % 4
		}
		k.beats = append(k.beats, w)
	}
}

// inside are the player's notes in the section.
func (k take) inside() (notes []form.Note) {
	for _, m := range k.notes {
		m.Start, m.End = k.when(m.Start)-k.before, k.when(m.End)-k.before
		if m.Start > -0.2 && m.Start < k.seconds-0.1 {
			m.Start = max(m.Start, 0)
			notes = append(notes, m)
		}
	}
	return notes
}

// hear takes the section out of the samples of all bands and all players, where the gig
// begins at so many seconds, and mixes the two.
func (k *take) hear(rng *rand.Rand, band, harp []float64, at float64) {
	cut := func(x []float64) []float64 {
		a := int((at + k.before) * rate)
		y := make([]float64, int(k.seconds*rate))
		copy(y, x[min(a, len(x)):])
		return y
	}
	x, h := cut(band), cut(harp)
	gain := math.Pow(10, k.harpDB/20) * rms(x) / max(rms(h), 1e-6)
	for j := range x {
		x[j] += gain * h[j]
	}
	if rng.IntN(4) == 0 {
		worn(rng, x)
	}
	k.sound.Add(x, rate, 0, 0)
	k.strength = beat.Strength{Hop: 256. / rate, Values: onset.Strength(x, rate, 256)}
	k.band, k.harp = nil, nil
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// worn narrows the band as old records do and adds noise.
func worn(rng *rand.Rand, x []float64) {
	level := rms(x)
	high, low := 60+140*rng.Float64(), 2800+2500*rng.Float64()
	noise := level * math.Pow(10, (-34+10*rng.Float64())/20)
	for range 2 {
		a, b := 1-math.Exp(-2*math.Pi*high/rate), 1-math.Exp(-2*math.Pi*low/rate)
		slow, fast := 0.0, 0.0
		for i, v := range x {
			slow += a * (v - slow)
			fast += b * (v - slow - fast)
			x[i] = fast
		}
	}
	for i := range x {
		x[i] += noise * rng.NormFloat64()
	}
}

// beatsFound is what a transcription hands on.
func (k take) beatsFound() []float64 {
	var starts []float64
	for _, n := range k.heard {
		starts = append(starts, n.Start)
	}
	return beat.Find(k.strength, starts, 0, k.seconds, 0).Beats
}

// right tells whether tempo (to 4 %) and first beats are: the median bar line lies
// within a quarter of a beat of a true first beat.
func (k take) right(b form.Bars) bool {
	if len(b.Firsts) == 0 || math.Abs(60/beatLength(b.Beats)/k.bpm-1) > 0.04 {
		return false
	}
	var off []float64
	for _, f := range b.Firsts {
		i, x := k.place(b.Beats[f])
		off = append(off, math.Abs(math.Remainder(float64(i-k.first)+x, 4)))
	}
	slices.Sort(off)
	return off[len(off)/2] < 0.25
}

// place is the true beat nearest to a time, and how far from it that is, in beats.
func (k take) place(t float64) (nearest int, off float64) {
	for i := range k.beats {
		if math.Abs(k.beats[i]-t) < math.Abs(k.beats[nearest]-t) {
			nearest = i
		}
	}
	j := min(nearest, len(k.beats)-2)
	return nearest, (t - k.beats[nearest]) / (k.beats[j+1] - k.beats[j])
}

// each calls do for all takes, on all processors.
func each(takes []take, do func(i int, k take)) {
	parallel.Each(len(takes), func(_, i int) { do(i, takes[i]) })
}

// beatLength is the mean length in seconds of beats, of which there are two or more.
func beatLength(beats []float64) float64 {
	return (beats[len(beats)-1] - beats[0]) / float64(len(beats)-1)
}
