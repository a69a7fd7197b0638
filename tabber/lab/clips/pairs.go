package clips

import (
	"context"
	"fmt"
	"math/rand/v2"

	"blowdraw/decode"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
)

// Reeds that [Pairs] can sound.
const (
	Rendered = "render" // the additive reeds of package render
	Sampled  = "bank"   // the bank at BankPath
	Fluid    = "fluid"  // the bank at FluidBankPath
)

// Kind of pairs.
type Kind string

const (
	Octaves Kind = "octave" // splits, the weaker reed at 0, -3, -6, -9 or -12 dB
	Doubles Kind = "double" // neighbouring holes, the weaker at -12 dB
)

const (
	pairsPerClip = 10
	between      = 0.5 // s from a note's end to the next
)

var (
	octaveLevels = []float64{0, -3, -6, -9, -12} // dB
	detunes      = []float64{0, 3}               // cents
	surroundings = []string{"dry", "hall", "amp"}
)

// Pairs makes clips that ask one question again and again: one reed, or two? For
// each of ten pairs of holes a clip has the lower reed alone, the upper reed
// alone and both together, in any order, half a second apart. Either reed may be
// the weaker; the pairs are in tune and 3 cents off in turn; the clips are dry,
// in a hall and through an overdriven amplifier in turn. Category names the
// surroundings.
func Pairs(kind Kind, reeds string, seed int64, clips int) ([]Clip, error) {
	var b *bank
	var err error
	switch reeds {
	case Sampled:
		b, err = openBank(BankPath)
	case Fluid:
		b, err = openBank(FluidBankPath)
	}
	if err != nil {
		return nil, err
	}
	var out []Clip
	for i := range clips {
		rng := generator(string(kind)+" pairs", seed, i)
		c := Clip{Name: fmt.Sprintf("%s-%s-%d", kind, reeds, i+1), Category: surroundings[i%len(surroundings)],
			Source: reeds}
		c.Harp = mustParse(usualKeys[rng.IntN(len(usualKeys))], "richter")
		c.Temperament, c.Cents = "equal", -20+40*rng.Float64()
		c.Gestures = pairGestures(rng, kind, c.Harp, i)
		var notes []render.Note
		notes, c.Events = render.Perform(c.Harp, render.Tuning{Cents: c.Cents}, c.Gestures)
		end := c.Events[len(c.Events)-1].End + 1
		x, err := c.sound(b, notes, end, rng)
		if err != nil {
			return nil, fmt.Errorf("sounding %s: %w", c.Name, err)
		}
		x = surround(rng, c.Category, x)
		c.Clip = decode.Clip{Rate: Rate, Samples: finish(x, rng)}
		out = append(out, c)
	}
	return out, nil
}

// allPairs makes 200 pairs of each kind, or of only one, on each sort of reeds and hands
// on the clips of one sort at a time.
func allPairs(ctx context.Context, seed int64, only Kind, use func([]Clip) error) error {
	for _, kind := range []Kind{Octaves, Doubles} {
		if only != "" && kind != only {
			continue
		}
		for _, reeds := range []string{Rendered, Sampled, Fluid} {
			if err := ctx.Err(); err != nil {
				return err
			}
			clips, err := Pairs(kind, reeds, seed, 20)
			if err != nil {
				return fmt.Errorf("making the pairs: %w", err)
			}
			if err := use(clips); err != nil {
				return err
			}
		}
	}
	return nil
}

// pairGestures of clip number i.
func pairGestures(rng *rand.Rand, kind Kind, h harp.Harp, i int) []render.Gesture {
	var pairs [][]harp.Action
	for _, b := range []harp.Breath{harp.Blow, harp.Draw} {
		if kind == Octaves {
			pairs = append(pairs, splits(h, b, true)...)
		} else {
			pairs = append(pairs, neighbours(h, b)...)
		}
	}
	var out []render.Gesture
	t := 0.5
	for k := range pairsPerClip {
		pair := pairs[rng.IntN(len(pairs))]
		levels, detune := []float64{0, 0}, []float64{0, 0}
		weak := rng.IntN(2)
		levels[weak] = -12
		if kind == Octaves {
			levels[weak] = octaveLevels[(i/len(surroundings)+k)%len(octaveLevels)]
		}
		detune[rng.IntN(2)] = detunes[k/len(octaveLevels)%2]
		asked := []render.Gesture{
			{Actions: pair, Levels: levels, Detune: detune}, {Actions: pair[:1]}, {Actions: pair[1:]},
		}
		rng.Shuffle(len(asked), func(a, b int) { asked[a], asked[b] = asked[b], asked[a] })
		length, level := 0.3+0.9*rng.Float64(), -6*rng.Float64()
		attack, release := 0.02+0.06*rng.Float64(), 0.02+0.04*rng.Float64()
		for _, g := range asked {
			g.Start, g.End = t, t+length
			g.Level, g.Attack, g.Release = level, attack, release
			out = append(out, g)
			t += length + between
		}
	}
	return out
}

// surround puts a clip into its surroundings.
func surround(rng *rand.Rand, name string, x []float64) []float64 {
	room := effect.Room{T60: 1 + rng.Float64(), Direct: 1 + 5*rng.Float64(), PreDelay: 0.025 * rng.Float64(),
		Seed: rng.Uint64()}
	amp := effect.Amp{Drive: 2 + 12*rng.Float64(), Bias: 0.35 * rng.Float64(), Low: 90 + 80*rng.Float64(),
		High: 3500 + 2500*rng.Float64()}
	switch name {
	case "hall":
		return effect.Reverb(x, Rate, room)
	case "amp":
		return effect.Overdrive(x, Rate, amp)
	}
	return x
}
