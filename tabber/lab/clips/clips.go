// Package clips makes recordings to measure the transcriber on, with exactly known
// truth: solo harp in the situations that are hard (the hard set, [Clips]), harps in
// three positions ([Positions]), lone reeds and pairs of them ([Pairs]), playing with
// ornaments ([Played]), songs with a band ([Songs]) and solos whose phrases come back
// ([Solos]). [Write] writes them into a folder.
//
// The phrases are invented by a random player (see player.go). Half of the
// clips of every category sound with the additive reeds of package render, the
// other half with the sampled harmonica of a General MIDI sound bank (program
// 23, Harmonica; General MIDI System Level 1). FluidSynth plays the notes one
// after the other from a MIDI file that the package writes (see smf.go), with
// bends, glides and vibrato as pitch bend, so that two reeds bend apart; the
// package then shapes their loudness and puts them where they belong.
//
// An event's start is when its first reed begins to sound, 26 dB or so under
// its full tone and rising; its end is when the breath stops. Reverberation is
// no note. All of it follows from the category and a seed.
//
// The clips are for measuring. A method that is trained or tuned on some of them
// needs others to be judged by.
package clips

import (
	"context"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"

	"blowdraw/decode"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"
)

const (
	// Rate of the clips in samples per second.
	Rate = 22050
	// Seconds is the length of a clip.
	Seconds = 20
	// PerCategory is how many clips a category has.
	PerCategory = 6
)

// Clip is one recording with its truth.
type Clip struct {
	Name     string // category and number, such as "held-1"
	Category string
	Source   string // Sampled or Rendered; of [Pairs] and [Played] also Fluid
	decode.Clip
	Harp        harp.Harp
	Position    int // 0 where the player keeps to none
	Temperament string
	Cents       float64 // of the whole recording against A4 = 440 Hz
	Events      []tab.Event
	Gestures    []render.Gesture // how the events were played, one for each
	Phrases     []tab.Phrase
}

// category is one kind of difficulty.
type category struct {
	name     string
	count    int // of clips, PerCategory if 0
	position int
	// prepare draws the harp and the player's habits for clip number i.
	prepare func(rng *rand.Rand, i int) (harp.Harp, habits)
	// treat puts the room or the amplifier over the dry harp.
	treat func(rng *rand.Rand, i int, x []float64) []float64
}

// Categories lists the names of the hard set's categories.
func Categories() []string {
	var names []string
	for _, c := range categories() {
		names = append(names, c.name)
	}
	return names
}

// Clips makes the clips of a category of the hard set. The same seed gives the same clips.
// It needs FluidSynth and the sound bank (see BankPath).
func Clips(name string, seed int64) ([]Clip, error) {
	for _, c := range categories() {
		if c.name == name {
			b, err := openBank(BankPath)
			if err != nil {
				return nil, err
			}
			return c.clips(context.Background(), b, seed)
		}
	}
	return nil, fmt.Errorf("no category %q: there are %v", name, Categories())
}

func (c category) clips(ctx context.Context, b *bank, seed int64) ([]Clip, error) {
	var clips []Clip
	for i := range max(c.count, PerCategory) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		clip, notes, rng := c.compose(seed, i)
		x, err := clip.sound(b, notes, Seconds, rng)
		if err != nil {
			return nil, fmt.Errorf("sounding %s: %w", clip.Name, err)
		}
		x = c.treat(rng, i, x)
		clip.Clip = decode.Clip{Rate: Rate, Samples: finish(x, rng)}
		clips = append(clips, clip)
	}
	return clips, nil
}

// compose writes the music of clip number i. The generator is returned for
// what comes after.
func (c category) compose(seed int64, i int) (Clip, []render.Note, *rand.Rand) {
	rng := generator(c.name, seed, i)
	clip := Clip{Name: fmt.Sprintf("%s-%d", c.name, i+1), Category: c.name, Position: c.position,
		Source: Sampled}
	if i%2 == 1 {
		clip.Source = Rendered
	}
	var hab habits
	clip.Harp, hab = c.prepare(rng, i)
	temper := harp.Temperaments()[rng.IntN(len(harp.Temperaments()))]
	clip.Temperament = temper.Name
	clip.Cents = math.Round(10*(-45+90*rng.Float64())) / 10
	clip.Gestures, clip.Phrases = play(rng, clip.Harp, hab, Seconds)
	var notes []render.Note
	notes, clip.Events = render.Perform(clip.Harp, render.Tuning{Temperament: temper, Cents: clip.Cents},
		clip.Gestures)
	for i, g := range clip.Gestures {
		clip.Events[i].Marks = g.Marks()
	}
	return clip, notes, rng
}

func generator(name string, seed int64, i int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s %d", name, i)
	return rand.New(rand.NewPCG(uint64(seed), h.Sum64()))
}

// sound renders the dry harp, that many seconds long.
func (c Clip) sound(b *bank, notes []render.Note, seconds float64, rng *rand.Rand) ([]float64, error) {
	var x []float64
	reeds := rng.Uint64()
	if c.Source != Rendered {
		var err error
		if x, err = b.play(notes); err != nil {
			return nil, err
		}
	} else {
		x = render.Render(notes, render.Set{Seed: reeds}, Rate)
	}
	full := make([]float64, int(seconds*Rate))
	copy(full, x)
	return full, nil
}

// finish adds the noise of the room and the microphone, 50 to 70 dB under the
// music, and sets the peak between -9 and -1 dB of full scale.
func finish(x []float64, rng *rand.Rand) []float64 {
	noise := effect.RMS(x) * math.Pow(10, -(50+20*rng.Float64())/20)
	var peak, brown float64
	for i := range x {
		white := rng.NormFloat64()
		brown = 0.95*brown + 0.3*white
		x[i] += noise * 0.7 * (brown + 0.3*white)
		peak = max(peak, math.Abs(x[i]))
	}
	gain := math.Pow(10, -(1+8*rng.Float64())/20) / peak
	for i := range x {
		x[i] *= gain
	}
	return x
}
