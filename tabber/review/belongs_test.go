package review

import (
	"math/rand/v2"
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// chorus is a tab of single notes from 10 s on, and what is heard of it from 9 s on: a
// share of it, with other notes now and then.
func chorus(t *testing.T, seed uint64, share float64) (tab.Document, [][]float64) {
	t.Helper()
	h, err := harp.Parse("A", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(seed, 1))
	d := tab.Document{Harp: h, SongKey: 4, TuningCents: 30}
	heard := make([][]float64, frameOf(22))
	all := h.Actions(false)
	for at := 10.0; at < 30; at += 0.4 {
		a := all[rng.IntN(len(all))]
		d.Events = append(d.Events, tab.Event{Start: at, End: at + 0.3, Actions: []harp.Action{a}})
		for i := frameOf(at - 9); i < frameOf(at-8.7); i++ {
			if rng.Float64() < 0.3 {
				heard[i] = append(heard[i], float64(h.MIDI(all[rng.IntN(len(all))]))+0.3)
			}
			if rng.Float64() < share {
				heard[i] = append(heard[i], float64(h.MIDI(a))+0.3)
			}
		}
	}
	return d, heard
}

func frameOf(seconds float64) int { return int(seconds / pitch.HopSeconds) }

// A tab goes with its own recording, heard half and with other notes in between, and with
// no other.
func TestBelongs(t *testing.T) {
	for seed := range uint64(8) {
		d, own := chorus(t, seed, 0.6)
		_, other := chorus(t, seed+100, 0.9)
		if b := Belongs(d, 9, own); !b.Known || !b.Belongs() || b.Share < 0.4 {
			t.Errorf("seed %d: its own recording: %+v", seed, b)
		}
		if b := Belongs(d, 9, other); !b.Known || b.Belongs() {
			t.Errorf("seed %d: another recording: %+v", seed, b)
		}
		if b := Belongs(d, 5, own); b.Belongs() {
			t.Errorf("seed %d: its own, 4 s late: %+v", seed, b)
		}
	}
}

// Of a few notes, or one note all along, nothing is said.
func TestBelongsUnknown(t *testing.T) {
	d, own := chorus(t, 1, 0)
	d.Events = d.Events[:5]
	if b := Belongs(d, 9, own); b.Known || !b.Belongs() {
		t.Errorf("five notes: %+v", b)
	}
	d, own = chorus(t, 1, 0)
	d.Events = []tab.Event{{Start: 9, End: 30.9, Actions: d.Events[0].Actions}}
	if b := Belongs(d, 9, own); b.Known || !b.Belongs() {
		t.Errorf("one note: %+v", b)
	}
}
