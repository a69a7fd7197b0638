package tabber

import (
	"math/rand/v2"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// inventTab writes two phrases for a harp: single notes with their bends, now and
// then a double stop or an octave, mostly by small steps.
func inventTab(rng *rand.Rand, h harp.Harp) tab.Document {
	d := tab.Document{Harp: h, SongKey: harp.SongKey(h.Key(), 2)}
	hole := 1 + rng.IntN(6)
	t := 0.4
	for range 2 {
		begin := t
		for range 7 {
			hole = min(max(hole+rng.IntN(5)-2, 1), h.Layout.Holes())
			length := 0.2 + 0.6*rng.Float64()*rng.Float64()
			a := inventActions(rng, h, hole)
			if n := len(d.Events); n > 0 && a[0] == d.Events[n-1].Actions[0] {
				continue
			}
			d.Events = append(
				d.Events,
				tab.Event{Start: t, End: t + length, Actions: a, Texture: tab.Texture(a), Confidence: 1},
			)
			t += length
		}
		d.Phrases = append(d.Phrases, tab.Phrase{Start: begin, End: t})
		t += 0.8
	}
	d.To = t
	return d
}

func inventActions(rng *rand.Rand, h harp.Harp, hole int) []harp.Action {
	breath := harp.Breath(rng.IntN(2))
	if breath == harp.Blow && hole == 3 { // sounds as draw 2, which would be written
		breath = harp.Draw
	}
	one := harp.Action{Breath: breath, Hole: hole}
	switch dice := rng.IntN(10); {
	case dice < 2 && hole < h.Layout.Holes():
		return []harp.Action{one, {Breath: breath, Hole: hole + 1}}
	case dice == 2 && breath == harp.Blow && hole <= 6:
		return []harp.Action{one, {Breath: breath, Hole: hole + 3}}
	case dice < 6:
		one.Bend = rng.IntN(h.MaxBend(breath, hole) + 1)
	}
	return []harp.Action{one}
}

// Tab, made to sound and transcribed, is the same tab again.
func TestClosedLoop(t *testing.T) {
	l, err := harp.ParseLayout("richter")
	if err != nil {
		t.Fatal(err)
	}
	seeds, floor := 1, 0.97
	if thorough {
		seeds = 20
	}
	var sum float64
	for key := range 12 {
		h, err := harp.Parse(harp.KeyName(key), l)
		if err != nil {
			t.Fatal(err)
		}
		for seed := range uint64(seeds) {
			want := inventTab(rand.New(rand.NewPCG(seed, uint64(key))), h)
			x := render.Render(render.Play(want, 0, 1, 0), render.Set{Seed: seed}, pitch.Rate)
			tr, err := NewTranscriber(h, Options{})
			if err != nil {
				t.Fatal(err)
			}
			got := tr.Clip(decode.Clip{Rate: pitch.Rate, Samples: x})
			m := score.Compare(want, tab.Document{Harp: h, Events: got.Events, Phrases: got.Phrases}, 0.05)
			sum += m.TabF
			if m.TabF < 0.9 {
				t.Logf("%s harp, seed %d: tabF %.3f", h.Name, seed, m.TabF)
			}
		}
	}
	mean := sum / float64(12*seeds)
	t.Logf("mean tabF %.4f", mean)
	if mean < floor {
		t.Errorf("mean tabF %.3f, want at least %g", mean, floor)
	}
}
