package tabber

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

var harpOf = harptest.Of

// melody plays single notes: tokens of tab, each with its length in seconds; an
// empty token is a rest. Notes of the other breath or the same hole are parted by
// 60 ms, others are slurred.
func melody(t testing.TB, h harp.Harp, tokens []string, lengths []float64) []render.Gesture {
	t.Helper()
	var out []render.Gesture
	at := 0.4
	for i, token := range tokens {
		length := lengths[i%len(lengths)]
		if token != "" {
			actions, err := tab.ParseToken(h, token)
			if err != nil {
				t.Fatal(err)
			}
			g := render.Gesture{Start: at, End: at + length, Actions: actions, Attack: 0.03, Release: 0.03}
			if n := len(out); n > 0 && !slurs(out[n-1], g) {
				out[n-1].End = min(out[n-1].End, at-0.06)
			}
			out = append(out, g)
		}
		at += length
	}
	return out
}

func slurs(a, b render.Gesture) bool {
	return a.Actions[0].Breath == b.Actions[0].Breath && a.Actions[0].Hole != b.Actions[0].Hole
}

// played is what the gestures sound like and the truth.
func played(h harp.Harp, tuning render.Tuning, seed uint64, g []render.Gesture) (decode.Clip, []tab.Event) {
	notes, events := render.Perform(h, tuning, g)
	x := render.Render(notes, render.Set{Seed: seed}, pitch.Rate)
	return decode.Clip{Rate: pitch.Rate, Samples: append(x, make([]float64, pitch.Rate/2)...)}, events
}

var (
	lick = []string{
		"-2", "-3'", "-4", "-4'", "-4", "5", "-5", "6", "", "-4", "4", "-3", "-3''", "-2", "-2''", "-1", "2", "",
		"1", "-1", "2", "-2", "4", "-4", "5", "-5", "6", "-6", "-7", "7", "-8", "8", "-9", "9", "-10", "10", "",
	}
	lengths = []float64{0.35, 0.25, 0.5, 0.3, 0.45}
)

func classical(t testing.TB, h harp.Harp, opt Options) *Transcriber {
	t.Helper()
	opt.Ear = "classical"
	tr, err := NewTranscriber(h, opt)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// Rendered melodies on harps from low F to high G come back hole for hole, their
// starts and ends within 60 ms. The notes of the layout are common practice, no
// source; the synthesizer has its own tests.
func TestClassicalMelody(t *testing.T) {
	keys := []string{"low F", "high G", "G", "A", "C", "F#"}
	if !thorough {
		keys = keys[:2]
	}
	for i, key := range keys {
		h := harpOf(t, key, "richter")
		tuning := render.Tuning{Temperament: harp.Temperament{Just: 0.25 * float64(i%5)}, Cents: float64(7*i - 15)}
		clip, want := played(h, tuning, uint64(i), melody(t, h, lick, lengths))
		r := classical(t, h, Options{}).Clip(clip)
		wantEvents(t, key, r.Events, want, 0.06)
		if len(r.Phrases) != 2 {
			t.Errorf(
				"%s: %d phrases, want 2: the rest of half a second is a space, that of 0.3 s is not",
				key,
				len(r.Phrases),
			)
		}
	}
}

// A note that a section cuts off ends with the section.
func TestCutOff(t *testing.T) {
	h := harpOf(t, "C", "richter")
	clip, _ := played(h, render.Tuning{}, 1, melody(t, h, []string{"4"}, []float64{2}))
	clip.Samples = clip.Samples[:pitch.Rate]
	zero := 0.0
	r := classical(t, h, Options{Tuning: &zero}).Clip(clip)
	if len(r.Events) != 1 || r.Events[0].End != 1 || r.Phrases[0].End != 1 || r.To != 1 {
		t.Errorf("events %v, phrases %v, end %v; want one note until 1 s", r.Events, r.Phrases, r.To)
	}
}

// wantEvents compares two sequences of events, token by token.
func wantEvents(t *testing.T, name string, got, want []tab.Event, reach float64) {
	t.Helper()
	for i := range max(len(got), len(want)) {
		if i >= len(got) || i >= len(want) {
			t.Errorf("%s: %d events, want %d", name, len(got), len(want))
			return
		}
		g, w := got[i], want[i]
		if tab.Token(g.Actions) != tab.Token(w.Actions) {
			t.Errorf("%s: event %d is %s at %.2f to %.2f s, want %s at %.2f to %.2f s", name, i,
				tab.Token(g.Actions), g.Start, g.End, tab.Token(w.Actions), w.Start, w.End)
			return // what follows may be shifted
		}
		if math.Abs(g.Start-w.Start) > reach || math.Abs(g.End-w.End) > reach {
			t.Errorf("%s: event %d (%s) lasts from %.3f to %.3f s, want %.3f to %.3f", name, i,
				tab.Token(g.Actions), g.Start, g.End, w.Start, w.End)
		}
	}
}

// A tuning that is given is taken as it is.
func TestGivenTuning(t *testing.T) {
	h := harpOf(t, "C", "richter")
	clip, _ := played(h, render.Tuning{Cents: 10}, 1, melody(t, h, lick[:3], lengths))
	cents := -12.5
	if r := classical(t, h, Options{Tuning: &cents}).Clip(clip); r.TuningCents != cents {
		t.Errorf("tuning %g, want %g", r.TuningCents, cents)
	}
}

func TestUnknownEar(t *testing.T) {
	if _, err := NewTranscriber(harpOf(t, "C", "richter"), Options{Ear: "third"}); err == nil {
		t.Error("there is no third ear")
	}
}

// long is a melody of several of the windows used below.
func long(t testing.TB, h harp.Harp) (decode.Clip, []tab.Event) {
	t.Helper()
	var tokens []string
	for range 4 {
		tokens = append(tokens, lick...)
	}
	return played(h, render.Tuning{}, 3, melody(t, h, tokens, lengths))
}

// open writes the clip as a WAV file and opens it as a stream.
func open(t testing.TB, clip decode.Clip, opt decode.Options) *decode.Stream {
	t.Helper()
	var b bytes.Buffer
	if err := decode.WriteWAV(&b, clip); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "long.wav")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	opt.Rate = pitch.Rate
	s, err := decode.Open(path, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// Heard window by window a long section gives what it gives as a whole.
func TestStreamEqualsClip(t *testing.T) {
	if !thorough {
		t.Skip("takes the build tag long")
	}
	h := harpOf(t, "A", "richter")
	clip, _ := long(t, h)
	zero := 0.0
	whole := classical(t, h, Options{Tuning: &zero}).Clip(clip)
	if len(whole.Events) < 100 {
		t.Fatalf("%d events only", len(whole.Events))
	}
	for _, seconds := range []float64{17, 23.3} {
		heard := 0.0
		tr := classical(t, h, Options{Tuning: &zero})
		section := hearing.StreamBy(open(t, clip, decode.Options{}), 0, func(s float64) { heard = s }, seconds)
		r, err := tr.transcribe(context.Background(), 0, section)
		if err != nil {
			t.Fatal(err)
		}
		wantEvents(t, "in windows", r.Events, whole.Events, 2.5*pitch.HopSeconds)
		if len(r.Phrases) != len(whole.Phrases) {
			t.Errorf("windows of %g s: %d phrases, want %d", seconds, len(r.Phrases), len(whole.Phrases))
		}
		if r.From != 0 || math.Abs(r.To-whole.To) > 1e-9 || math.Abs(heard-whole.To) > 1e-9 {
			t.Errorf("windows of %g s: from %g to %g (%g heard), want to %g", seconds, r.From, r.To, heard, whole.To)
		}
	}
}

// A section in the middle has the times of the recording.
func TestStreamFrom(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip, truth := long(t, h)
	from, to := truth[30].Start-0.3, truth[40].End+0.05
	r, err := classical(
		t,
		h,
		Options{},
	).Stream(context.Background(), open(t, clip, decode.Options{From: from, To: to}), from)
	if err != nil {
		t.Fatal(err)
	}
	var want []tab.Event
	for _, e := range truth {
		if e.End > from && e.Start < to {
			e.Start, e.End = max(e.Start, from), min(e.End, to)
			want = append(want, e)
		}
	}
	wantEvents(t, "section", r.Events, want, 0.06)
	if r.From != from || math.Abs(r.To-to) > 1e-3 {
		t.Errorf("from %g to %g, want %g to %g", r.From, r.To, from, to)
	}
}

func TestStreamStops(t *testing.T) {
	h := harpOf(t, "A", "richter")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	clip := decode.Clip{Rate: pitch.Rate, Samples: make([]float64, pitch.Rate)}
	if _, err := classical(t, h, Options{}).Stream(ctx, open(t, clip, decode.Options{}), 0); err != context.Canceled {
		t.Errorf("error %v, want %v", err, context.Canceled)
	}
}

// The result does not depend on how many processors there are.
func TestDeterministic(t *testing.T) {
	h := harpOf(t, "C", "richter")
	clip, _ := played(h, render.Tuning{Cents: 6}, 2, melody(t, h, lick[:17], lengths))
	learned, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, tr := range []*Transcriber{classical(t, h, Options{}), learned} {
		one := onProcessors(1, tr, clip)
		if len(one.Events) < 10 {
			t.Fatalf("%d events only", len(one.Events))
		}
		for _, n := range []int{2, 5} {
			if r := onProcessors(n, tr, clip); !reflect.DeepEqual(r, one) {
				t.Errorf("on %d processors: %+v\non one: %+v", n, r, one)
			}
		}
	}
}

// onProcessors transcribes a clip on so many processors. NaN, which nothing equals, is
// replaced.
func onProcessors(n int, tr *Transcriber, clip decode.Clip) Result {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(n))
	r := tr.Clip(clip)
	for _, x := range []*float64{&r.Condition.HarpDB, &r.Condition.NoiseDB, &r.Condition.Bandwidth} {
		if math.IsNaN(*x) {
			*x = -1
		}
	}
	return r
}

func TestSilentClips(t *testing.T) {
	tr := classical(t, harpOf(t, "C", "richter"), Options{})
	for _, n := range []int{0, 1, 255, 256, 30000} {
		r := tr.Clip(decode.Clip{Rate: pitch.Rate, Start: 3, Samples: make([]float64, n)})
		if len(r.Events) > 0 || len(r.Phrases) > 0 || r.From != 3 {
			t.Errorf("%d zeros: %+v", n, r)
		}
	}
}

func event(h harp.Harp, start, end float64, token string) tab.Event {
	a, err := tab.ParseToken(h, token)
	if err != nil {
		panic(err)
	}
	return tab.Event{Start: start, End: end, Actions: a}
}

// What an event tells beside its holes: the measured pitch, that it is a single
// note, and for clearly played notes that it is sure of itself.
func TestClassicalEvents(t *testing.T) {
	h := harpOf(t, "C", "richter")
	clip, want := played(
		h,
		render.Tuning{Temperament: harp.Temperament{Just: 1}, Cents: -20},
		9,
		melody(t, h, lick, lengths),
	)
	r := classical(t, h, Options{}).Clip(clip)
	wantEvents(t, "C", r.Events, want, 0.06)
	for i := range min(len(want), len(r.Events)) {
		g, w := r.Events[i], want[i]
		if len(g.Pitches) != 1 || math.Abs(g.Pitches[0]-w.Pitches[0]) > 0.06 {
			t.Errorf("event %d (%s): pitches %.2f, want %.2f", i, tab.Token(w.Actions), g.Pitches, w.Pitches)
		}
		if g.Texture != tab.Single || g.Confidence < 0.5 || g.Confidence > 1 {
			t.Errorf("event %d (%s): %s with confidence %.2f", i, tab.Token(w.Actions), g.Texture, g.Confidence)
		}
	}
}

// A scoop of 90 cents belongs to the note it leads to.
func TestScoop(t *testing.T) {
	h := harpOf(t, "C", "richter")
	g := melody(t, h, []string{"-4", "", "-2", "", "-3"}, []float64{0.6, 0.3})
	for i := range g {
		g[i].Scoop, g[i].ScoopTime = 90, 0.1
	}
	clip, want := played(h, render.Tuning{}, 4, g)
	r := classical(t, h, Options{}).Clip(clip)
	wantEvents(t, "scoops", r.Events, want, 0.06)
	for _, e := range r.Events {
		if e.Confidence < 0.5 {
			t.Errorf("%s at %.2f s: confidence %.2f", tab.Token(e.Actions), e.Start, e.Confidence)
		}
	}
}

// Eb5 on a C harp is overblow 4 and nothing else (common practice, no source):
// without overbends it must not be forced onto a hole.
func TestUnplayable(t *testing.T) {
	h := harpOf(t, "C", "richter")
	notes := []render.Note{
		{Start: 0.3, End: 0.9, MIDI: 74, Attack: 0.03, Release: 0.03}, // D5, draw 4
		{Start: 1.0, End: 1.8, MIDI: 75, Attack: 0.03, Release: 0.03}, // Eb5: overblow 4 only
		{Start: 1.9, End: 2.5, MIDI: 76, Attack: 0.03, Release: 0.03}, // E5, blow 5
	}
	x := append(render.Render(notes, render.Set{Seed: 1}, pitch.Rate), make([]float64, pitch.Rate/2)...)
	clip := decode.Clip{Rate: pitch.Rate, Samples: x}
	zero := 0.0
	tokens := func(opt Options) []string {
		opt.Tuning = &zero
		var out []string
		for _, e := range classical(t, h, opt).Clip(clip).Events {
			out = append(out, tab.Token(e.Actions))
			if len(e.Actions) == 0 && (len(e.Alternatives) == 0 || math.Abs(e.Pitches[0]-75) > 0.1) {
				t.Errorf("unplayable: %+v", e)
			}
		}
		return out
	}
	if got := tokens(Options{}); !slices.Equal(got, []string{"-4", tab.Token(nil), "5"}) {
		t.Errorf("without overbends: %q", got)
	}
	if got := tokens(Options{Overbends: true}); !slices.Equal(got, []string{"-4", "4o", "5"}) {
		t.Errorf("with overbends: %q", got)
	}
}

// Of a window the notes count that begin between the seams; a note held over a seam
// becomes one again.
func TestGathered(t *testing.T) {
	h := harpOf(t, "C", "richter")
	at := func(start, end float64, token string) note { return note{Event: event(h, start, end, token)} }
	all := gathered{{at(1, 2, "4")}, {at(2, 10, "-4")}}
	p := part{seam: 14.5, notes: []note{
		at(1.5, 2, "4"),     // before
		at(9.5, 12, "-4"),   // the held note again
		at(12, 13, "-4'"),   // new
		at(13, 14.5, "-3"),  // new
		at(14.5, 15, "-3'"), // after
	}}
	want := []note{at(1, 2, "4"), at(2, 12, "-4"), at(12, 13, "-4'"), at(13, 14.5, "-3")}
	if got := slices.Concat(all.with(p, 10)...); !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	// Another note that began before the seam is the earlier window's business.
	p = part{seam: 20, notes: []note{at(9, 12, "-5")}}
	if got := slices.Concat(gathered{want[:2]}.with(p, 10)...); !reflect.DeepEqual(got, want[:2]) {
		t.Errorf("got %v, want %v", got, want[:2])
	}
}
