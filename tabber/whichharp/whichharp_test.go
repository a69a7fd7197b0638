package whichharp

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// Invented licks, a token a note; a dot is a rest.
const (
	crossLick = "-2 -3' -4 -4' [-4,-5] 5 -5 6 . -4 4 -3' -2 -2'' -1 2 . [-1,-4] -2 -3' [-2,-3] -4 -4' -4 [-1,-2,-3] -2"
	firstLick = "4 -4 5 -5 6 -6 -7 7 . 7 -8 8 8' 8 -9 9 9' 8 7 . [4,5] [5,6] 6 -5 5 [4,5,6] 4"
	thirdLick = "-4 5 -5 6 -6 -6' -6 . -8 7 -6 6 -5 -4 [-4,-5] . -1 -2'' -2 [-2,-5] -3'' -4 -5 [-3,-6] -4"
	minorLick = "-2 -3 4 -4 5 -5 6 . -4 4 -3 -2 2 -1 1 . [1,2,3] -2 -3 [4,5] -4 [-3,-4] -5 6 -2"
)

var harpNamed = harptest.Of

// played is a lick on a harp as sound.
func played(t testing.TB, h harp.Harp, tuning render.Tuning, lick string) decode.Clip {
	t.Helper()
	const length = 0.35
	var gestures []render.Gesture
	at := 0.3
	for _, token := range strings.Fields(lick) {
		if token != "." {
			actions, err := tab.ParseToken(h, strings.ReplaceAll(token, ",", " "))
			if err != nil {
				t.Fatal(err)
			}
			gestures = append(
				gestures,
				render.Gesture{Start: at, End: at + length - 0.05, Actions: actions, Attack: 0.03, Release: 0.03},
			)
		}
		at += length
	}
	notes, _ := render.Perform(h, tuning, gestures)
	x := render.Render(notes, render.Set{Seed: 5}, pitch.Rate)
	return decode.Clip{Rate: pitch.Rate, Samples: append(x, make([]float64, pitch.Rate/2)...)}
}

func rankOf(t testing.TB, c decode.Clip, opt Options) Ranking {
	t.Helper()
	r, err := New()
	if err != nil {
		t.Fatal(err)
	}
	k, err := r.Rank(context.Background(), c, opt)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// Common practice, no source: what the licks are, and in which key a harp is in
// them. The tuning is that of the synthesizer.
func TestRank(t *testing.T) {
	just := render.Tuning{Temperament: harp.Temperament{Just: 1}, Cents: -31}
	for _, c := range []struct {
		key, layout, lick, song string
		tuning                  render.Tuning
		known                   int // song key that Rank is told
	}{
		{"A", "richter", crossLick, "E", just, AnyKey},
		{"F", "richter", thirdLick, "G", render.Tuning{Cents: 22}, 7},
		{"low D", "richter", crossLick, "A", render.Tuning{}, AnyKey},
		{"Bb", "natural-minor", minorLick, "F", render.Tuning{}, 5},
	} {
		h := harpNamed(t, c.key, c.layout)
		k := rankOf(t, played(t, h, c.tuning, c.lick), Options{SongKey: c.known})
		best := k.Candidates[0]
		if !same(best.Harp, h) {
			t.Errorf("%s %s: %s %s %.2f", c.key, c.layout, best.Harp.Name, best.Harp.Layout.Name, best.Probability)
			continue
		}
		if song := h.KeyName(best.SongKey()); song != c.song {
			t.Errorf("%s %s in %s: want %s", c.key, c.layout, song, c.song)
		}
		if off := math.Abs(k.Tuning.Cents - c.tuning.Cents); off > 5 || off > 3*k.Tuning.Error {
			t.Errorf(
				"%s %s: tuning %.1f ± %.1f, want %.1f",
				c.key,
				c.layout,
				k.Tuning.Cents,
				k.Tuning.Error,
				c.tuning.Cents,
			)
		}
		sum := 0.0
		for _, x := range k.Candidates {
			sum += x.Probability
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%s: the probabilities sum to %g", c.key, sum)
		}
	}
}

// A song key leaves each harp one position.
func TestSongKey(t *testing.T) {
	c := played(t, harpNamed(t, "C", "richter"), render.Tuning{}, firstLick)
	for _, song := range []int{0, 7} {
		for _, x := range rankOf(t, c, Options{SongKey: song}).Candidates {
			if len(x.Positions) != 1 || x.SongKey() != song {
				t.Fatalf("song key %d: %s in %v", song, x.Harp.Name, x.Positions)
			}
		}
	}
}

func TestSilence(t *testing.T) {
	for _, n := range []int{0, 1, 5000, 3 * pitch.Rate} {
		k := rankOf(t, decode.Clip{Rate: pitch.Rate, Samples: make([]float64, n)}, Options{SongKey: AnyKey})
		if len(k.Candidates) > 0 && len(k.Candidates[0].Fit.Events) > 0 {
			t.Errorf("%d samples of silence: %v", n, k.Candidates[0])
		}
	}
}

// A tab is odd on a harp a semitone off and not on its own.
func TestOdd(t *testing.T) {
	for _, lick := range []string{crossLick, thirdLick} {
		h := harpNamed(t, "D", "richter")
		var events []tab.Event
		for i, token := range strings.Fields(lick) {
			if actions, err := tab.ParseToken(h, strings.ReplaceAll(token, ",", " ")); err == nil {
				e := tab.Event{Start: float64(i), End: float64(i) + 0.9, Actions: actions}
				for _, a := range actions {
					e.Pitches = append(e.Pitches, float64(h.MIDI(a))+0.2)
				}
				events = append(events, e)
			}
		}
		if Odd(h, events, 20) {
			t.Errorf("%q is odd on its own harp", lick)
		}
		for _, other := range []string{"Db", "Eb", "Bb"} {
			if !Odd(harpNamed(t, other, "richter"), events, 20) {
				t.Errorf("%q is not odd on a %s harp", lick, other)
			}
		}
	}
}

// Just intervals of Helmholtz, On the Sensations of Tone, tr. Ellis, Appendix XX
// (from memory): 5/4 386, 3/2 702, 9/8 204, 7/4 969 cents. On draw 2, the fifth,
// they make draw 3 1088, draw 4 204, draw 5 471 and draw 6 906.
func TestSchemes(t *testing.T) {
	h := harpNamed(t, "C", "richter")
	var just, equal []Reed
	for _, c := range []struct {
		a     harp.Action
		cents float64 // above hole 1 blow, less whole octaves
	}{
		{harp.Action{Breath: harp.Blow, Hole: 4}, 0}, {harp.Action{Breath: harp.Blow, Hole: 5}, 386}, {harp.Action{Breath: harp.Blow, Hole: 6}, 702},
		{harp.Action{Breath: harp.Draw, Hole: 2}, 702}, {harp.Action{Breath: harp.Draw, Hole: 3}, 1088}, {harp.Action{Breath: harp.Draw, Hole: 4}, 204},
		{harp.Action{Breath: harp.Draw, Hole: 5}, 471}, {harp.Action{Breath: harp.Draw, Hole: 6}, 906},
	} {
		off := c.cents - 100*math.Mod(float64(h.Offset(c.a)), 12)
		just = append(just, Reed{c.a, off + 7, 1}) // a recording 7 cents off
		equal = append(equal, Reed{c.a, 7, 1})
	}
	for _, c := range []struct {
		reeds []Reed
		want  string
	}{{just, "just"}, {equal, "equal"}} {
		if got := Schemes(h, c.reeds)[0]; got.Temperament.Name != c.want || got.Off > 0.5 {
			t.Errorf("%s reeds: %s, %.1f cents off", c.want, got.Temperament.Name, got.Off)
		}
	}
}

// The reeds of a just harp are measured as they were tuned.
func TestReeds(t *testing.T) {
	h := harpNamed(t, "A", "richter")
	temper := harp.Temperament{Just: 1}
	k := rankOf(
		t,
		played(t, h, render.Tuning{Temperament: temper, Cents: 12}, crossLick+" . "+crossLick),
		Options{SongKey: AnyKey},
	)
	reeds := k.Candidates[0].Reeds()
	if len(reeds) < 6 {
		t.Fatalf("%d reeds", len(reeds))
	}
	for _, r := range reeds {
		if want := temper.Cents(h, r.Action); math.Abs(r.Cents-want) > 5 {
			t.Errorf("%v: %.1f cents, want %.1f", r.Action, r.Cents, want)
		}
	}
}

// Changes of harp are found, and one piece that errs by a little is overruled.
func TestJoinStretches(t *testing.T) {
	c := func(p float64) []Candidate {
		a, d := harpNamed(t, "A", "richter"), harpNamed(t, "D", "richter")
		return []Candidate{{Harp: a, Probability: p}, {Harp: d, Probability: 1 - p}}
	}
	pieces := []Stretch{
		{From: 0, To: 10},
		{From: 10, To: 20},
		{From: 20, To: 30},
		{From: 30, To: 40},
		{From: 40, To: 45},
	}
	got := joinStretches(pieces, [][]Candidate{c(0.99), c(0.3), c(0.95), c(0.01), c(0.02)})
	var names []string
	for _, s := range got {
		names = append(names, s.Harp.Name)
	}
	if !slices.Equal(names, []string{"A", "D"}) || got[0].To != 30 || got[1].From != 30 || got[1].To != 45 {
		t.Errorf("stretches %v: %+v", names, got)
	}
	if got := joinStretches(nil, nil); got != nil {
		t.Errorf("no pieces: %v", got)
	}
}

// What is said of a harp: the bend on the flat third and the octave on the fifth.
func TestEvidence(t *testing.T) {
	h := harpNamed(t, "A", "richter")
	event := func(token string) tab.Event {
		actions, err := tab.ParseToken(h, "["+token+"]")
		if err != nil {
			t.Fatal(err)
		}
		e := tab.Event{End: 0.5, Actions: actions, Texture: tab.Texture(actions)}
		for _, a := range actions {
			e.Pitches = append(e.Pitches, float64(h.MIDI(a)))
		}
		return e
	}
	fit := Fit{
		Harp: h,
		Events: []tab.Event{
			event("-3'"),
			event("-3'"),
			event("-1 -4"),
			event("-2"),
			event("-2"),
			event("-2"),
			event("4 5"),
		},
	}
	c := Candidate{Harp: h, Fit: fit, Positions: []Position{{2, 1}}}
	rival := Candidate{Harp: harpNamed(t, "D", "richter")}
	want := []string{
		"the flat third is draw 3 bent a half step: twice",
		"an octave on the fifth is draw 1+4: once",
		"blow 4 5 sound together: once",
		"the music rests longest on draw 2, the root",
		"This harp has all 9 notes, 2 by bending",
		// It begins above draw 1; draw 3 bent is draw 2 bent on it, draw 4 is draw 3 bent.
		"The D harp lacks 1 note of 9, and has 3 by bending",
	}
	if got := c.Evidence(&rival); !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}
