package tabber

import (
	"context"
	"math"
	"reflect"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// obeys reports whether a path keeps to the bounds.
func obeys(path []span, bounds []bound) bool {
	for k, b := range bounds {
		state, begins := 0, false
		for _, s := range path {
			if s.from <= k && k < s.to {
				state, begins = s.state, s.from == k
			}
		}
		if b.state >= 0 && (state != b.state || begins != b.begin) {
			return false
		}
	}
	return true
}

// tied binds a state to frames [from, to).
func tied(n, state, from, to int) []bound {
	out := make([]bound, n)
	for k := range out {
		out[k].state = -1
		if k >= from && k < to {
			out[k] = bound{state, k == from}
		}
	}
	return out
}

// With bounds the likeliest sequence and the sums are those over all sequences
// that keep to them.
func TestBoundLattice(t *testing.T) {
	const n = 8
	for seed := range uint64(30) {
		l := small(seed, n)
		state, from := 1+int(seed%3), int(seed%4)
		bounds := tied(n, state, from, from+3+int(seed%2))
		s := len(l.states)
		top, want, total := math.Inf(-1), []span(nil), 0.0
		in, begin := make([]float64, n*s), make([]float64, n*s)
		enumerate(l, func(path []span, score float64) {
			if !obeys(path, bounds) {
				return
			}
			if score > top {
				top, want = score, path
			}
			total += math.Exp(score)
			sounding := make([]int, n)
			for _, p := range path {
				begin[p.from*s+p.state] += math.Exp(score)
				for k := p.from; k < p.to; k++ {
					sounding[k] = p.state
				}
			}
			for k, i := range sounding {
				in[k*s+i] += math.Exp(score)
			}
		})
		l.bounds = bounds
		if got := l.best(); !slices.Equal(got, want) {
			t.Errorf("seed %d: %v, best is %v", seed, got, want)
		}
		p := l.posterior()
		for k := range in {
			if math.Abs(float64(p.in[k])-in[k]/total) > 1e-4 || math.Abs(float64(p.begin[k])-begin[k]/total) > 1e-4 {
				t.Errorf("seed %d: state %d at frame %d: %.5f and %.5f, want %.5f and %.5f", seed, k%s, k/s, p.in[k], p.begin[k], in[k]/total, begin[k]/total)
			}
		}
	}
}

// Wrong doubtful events come out right, settled ones stay even where they are
// wrong, and nothing appears where nothing was in doubt.
func TestRefine(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip, truth := played(h, render.Tuning{}, 5, melody(t, h, lick, lengths))
	learned, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		t      *Transcriber
		window float64
	}{{"classical", classical(t, h, Options{}), 60}, {"classical in windows", classical(t, h, Options{}), 16}, {"learned", learned, 60}} {
		written := slices.Clone(truth)
		for i := range written {
			written[i].Confidence = 1
			written[i].Comment = tab.Token(written[i].Actions)
		}
		change := func(i int, token string, confidence float64) {
			written[i].Actions, written[i].Confidence = event(h, 0, 0, token).Actions, confidence
		}
		change(3, "-5", 0.4)
		change(4, "4", 0.4)
		change(20, "[1 4]", 0.3)
		change(9, "-6", 1) // the reader insists
		gone := 12
		written = slices.Delete(written, gone, gone+1) // and wants this one away
		s := open(t, clip, decode.Options{Rate: pitch.Rate})
		got, err := c.t.admitting(written).refine(context.Background(), &window{stream: s, full: int(c.window * pitch.Rate)}, written)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(written) {
			t.Fatalf("%s: %d events, want %d", c.name, len(got), len(written))
		}
		for i, d := range got {
			want := written[i]
			if d.Of != i {
				t.Errorf("%s: event %d stands for %d", c.name, i, d.Of)
			}
			if Settled(want) {
				if !reflect.DeepEqual(d.Event, want) {
					t.Errorf("%s: settled %+v became %+v", c.name, want, d.Event)
				}
				continue
			}
			if tab.Token(d.Event.Actions) != want.Comment || math.Abs(d.Event.Start-want.Start) > 0.06 {
				t.Errorf("%s: event %d is %s at %.3f, want %s at %.3f", c.name, i, tab.Token(d.Event.Actions), d.Event.Start, want.Comment, want.Start)
			}
		}
	}
}

func TestReplace(t *testing.T) {
	h := harpOf(t, "C", "richter")
	at := func(start float64, token, comment string, confidence float64) tab.Event {
		e := event(h, start, start+0.5, token)
		e.Comment, e.Confidence = comment, confidence
		return e
	}
	d := tab.Document{Harp: h, Phrases: []tab.Phrase{{Start: 1, End: 4.5}},
		Events:  []tab.Event{at(1, "4", "a", 0.5), at(2, "-4", "b", 1), at(3, "5", "c", 0.5), at(4, "6", "", 1)},
		Remarks: []tab.Remark{{Before: -1, Text: "top"}, {Before: 0, Text: "first"}, {Before: 2, Text: "third"}, {Before: 4, Text: "end"}},
	}
	got := Replace(d, []Decision{{at(0.95, "-3", "", 0.9), 0}, {d.Events[1], 1}, {at(2.6, "7", "", 0.9), -1}, {d.Events[3], 3}})
	comments := ""
	for _, e := range got.Events {
		comments += e.Comment + ";"
	}
	if want := []tab.Remark{{Before: -1, Text: "top"}, {Before: 0, Text: "first"}, {Before: 3, Text: "c"}, {Before: 3, Text: "third"}, {Before: 4, Text: "end"}}; comments != "a;b;;;" || !reflect.DeepEqual(got.Remarks, want) || got.Phrases[0].Start != 0.95 || d.Phrases[0].Start != 1 {
		t.Errorf("%q, %v, %v", comments, got.Remarks, got.Phrases)
	}
}
