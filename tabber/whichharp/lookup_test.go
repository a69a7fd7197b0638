package whichharp

import (
	"math"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/render"
)

// heardOn are frames on the rows of a harp in which MIDI number note sounds throughout.
func heardOn(h harp.Harp, note, n int) pitch.Frames {
	f := pitch.NewFrames(hearing.Axis(h, 7), 1, n)
	f.Breath, f.Count = make([][3]float32, n), make([][4]float32, n)
	f.Loud = make([]float32, n*pitch.Rows)
	for i := range n {
		k := i*pitch.Rows + note - h.Base + pitch.RowBelow
		f.Sounding[k], f.Attack[k], f.Cents[k], f.Loud[k] = 0.9, 0.5, 3, -20
		f.Breath[i] = [3]float32{pitch.NoBreath: 0.2, pitch.Blowing: 0.7, pitch.Drawing: 0.1}
		f.Event[i] = float32(i)
	}
	return f
}

// A note that was heard on the rows of one harp lies at the same pitch on those of another,
// if its axis has it, and by either breath.
func TestOnRowsOf(t *testing.T) {
	c, note := harpNamed(t, "C", "richter"), 74
	f := heardOn(c, note, 5)
	for _, key := range []string{"C", "A", "F#", "low D", "high G"} {
		h := harpNamed(t, key, "richter")
		g := onRowsOf(h, f)
		if g.Axis != hearing.Axis(h, 7) || g.N != f.N || g.Start != f.Start {
			t.Errorf("%s: axis %+v of %d frames", key, g.Axis, g.N)
		}
		row := note - h.Base + pitch.RowBelow
		for k, p := range g.Sounding {
			if want := k%pitch.Rows == row; (p > 0) != want || (g.Attack[k] > 0) != want {
				t.Fatalf("%s: row %d sounds with %g, the note is row %d", key, k%pitch.Rows, p, row)
			}
			if k%pitch.Rows == row && (g.Cents[k] != 3 || g.Loud[k] != -20) {
				t.Errorf("%s: %g cents, %g dB", key, g.Cents[k], g.Loud[k])
			}
		}
		if b := g.Breath[0]; b[pitch.NoBreath] != 0.2 || b[pitch.Blowing] != b[pitch.Drawing] {
			t.Errorf("%s: breath %v", key, b)
		}
	}
}

// Notes beyond a harp's axis speak against it, and nothing else does.
func TestBeyond(t *testing.T) {
	r, err := New()
	if err != nil {
		t.Fatal(err)
	}
	c := harpNamed(t, "C", "richter")
	for _, x := range []struct {
		key   string
		note  int
		loses bool
	}{{"C", 62, false}, {"F#", 62, true}, {"F#", 74, false}, {"low C", 74, false}, {"low C", 96, true}} {
		h := harpNamed(t, x.key, "richter")
		silent := r.beyond(h, pitch.NewFrames(hearing.Axis(c, 0), 0, 10))
		heard := r.beyond(h, heardOn(c, x.note, 10))
		if loses := heard < silent-1; loses != x.loses {
			t.Errorf("note %d on the %s harp: %.2f, silence %.2f", x.note, x.key, heard, silent)
		}
	}
}

// By the evidence alone the right harp of a lick goes on, and it leads when its notes are
// looked up.
func TestGlance(t *testing.T) {
	r, err := New()
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"G", "D", "F#"} {
		h := harpNamed(t, key, "richter")
		s, err := r.search(t.Context(), played(t, h, render.Tuning{Cents: 9}, crossLick), Options{SongKey: AnyKey})
		if err != nil {
			t.Fatal(err)
		}
		if !has(likely(s.glanced), h) || !same(s.first[0].Harp, h) {
			t.Errorf("%s: %s leads, and the right one is likely: %v",
				key, s.first[0].Harp.Name, has(likely(s.glanced), h))
		}
	}
}

// The liveliest blocks, in order, are the same in sound and frames.
func TestLiveliest(t *testing.T) {
	const blocks = 5
	samples := make([]float64, blocks*blockHops*pitch.Hop)
	f := pitch.NewFrames(pitch.Axis{Base: 60}, 0, blocks*blockHops+1)
	active := make([]float64, f.N)
	for k, how := range []float64{0.1, 0.8, 0.3, 0.9, 0.2} {
		for i := range blockHops {
			active[k*blockHops+i], f.Event[k*blockHops+i] = how, float32(how)
		}
		for i := range blockHops * pitch.Hop {
			samples[k*blockHops*pitch.Hop+i] = how
		}
	}
	at := liveliest(len(samples), active, 2*blockSeconds)
	if want := []int{blockHops, 3 * blockHops}; !slices.Equal(at, want) {
		t.Fatalf("blocks at %v, want %v", at, want)
	}
	x, g := excerpt(decode.Clip{Rate: pitch.Rate, Samples: samples}, at), blocksOf(f, at)
	if len(x.Samples) != 2*blockHops*pitch.Hop || g.N != 2*blockHops {
		t.Errorf("%d samples, %d frames", len(x.Samples), g.N)
	}
	for i := range g.N {
		if s := x.Samples[i*pitch.Hop+pitch.Hop/2]; math.Abs(s-float64(g.Event[i])) > 1e-6 && i%blockHops > 0 &&
			i%blockHops < blockHops-1 {
			t.Fatalf("frame %d: sound %g, heard %g", i, s, g.Event[i])
		}
	}
	if all := liveliest(len(samples), active, 60); len(all) != blocks {
		t.Errorf("of a short clip %v", all)
	}
}

// The quietest blocks are left out, but so much of a short clip is kept as is weighed.
func TestLoud(t *testing.T) {
	var samples []float64
	for _, level := range []float64{0.3, 0, 0.2, 0.5, 0.1, 0.4, 0.6, 0.7} {
		samples = append(samples, slices.Repeat([]float64{level}, blockHops*pitch.Hop)...)
	}
	for _, want := range []struct {
		seconds float64
		blocks  []int
	}{
		{2, []int{0, 2, 3, 5, 6, 7}},
		{7, []int{0, 2, 3, 4, 5, 6, 7}},
		{20, []int{0, 1, 2, 3, 4, 5, 6, 7}},
	} {
		got := loud(samples, 0.75, want.seconds)
		for i := range got {
			got[i] /= blockHops
		}
		if !slices.Equal(got, want.blocks) {
			t.Errorf("%g s at least: blocks %v, want %v", want.seconds, got, want.blocks)
		}
	}
}

// What a closer round says replaces what was said before, and all sums to 1.
func TestSharing(t *testing.T) {
	a, d, g := harpNamed(t, "A", "richter"), harpNamed(t, "D", "richter"), harpNamed(t, "G", "richter")
	country := harpNamed(t, "A", "country")
	got := sharing(
		[]Candidate{{Harp: a, Probability: 0.55}, {Harp: d, Probability: 0.3}, {Harp: g, Probability: 0.15}},
		[]Candidate{
			{Harp: a, Probability: 0.25}, {Harp: country, Probability: 0.125}, {Harp: d, Probability: 0.625},
		},
	)
	want := []struct {
		harp.Harp
		p float64
	}{{d, 0.53125}, {a, 0.2125}, {g, 0.15}, {country, 0.10625}}
	for i, w := range want {
		if len(got) != len(want) || !same(got[i].Harp, w.Harp) || math.Abs(got[i].Probability-w.p) > 1e-12 {
			t.Fatalf("%d: %+v, want %+v", i, got, want)
		}
	}
}

// The progress of a ranking begins at nothing and rises.
func TestRankProgress(t *testing.T) {
	var shares []float64
	opt := Options{SongKey: AnyKey, Progress: func(share float64) { shares = append(shares, share) }}
	rankOf(t, played(t, harpNamed(t, "D", "richter"), render.Tuning{}, crossLick), opt)
	if len(shares) < 4 || shares[0] != 0 || !slices.IsSorted(shares) || shares[len(shares)-1] > 1 {
		t.Errorf("shares %v", shares)
	}
}
