package retab

import (
	"bytes"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

var harpOf = harptest.Of

// tabOf is a document of tokens, one a second, | beginning a phrase.
func tabOf(t testing.TB, head, tokens string) tab.Document {
	t.Helper()
	body := ""
	at := 0
	for _, w := range strings.Fields(tokens) {
		if w == "|" {
			body += "Phrase\n"
			continue
		}
		body += "0:0" + string(rune('0'+at)) + " 0.9 " + strings.ReplaceAll(w, "_", " ") + "\n"
		at++
	}
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\n" + head + "\n" + body))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func tokens(d tab.Document) string {
	var out []string
	for _, e := range d.Events {
		if token := tab.Token(e.Actions); token != "" {
			out = append(out, strings.ReplaceAll(token, " ", "_"))
		} else {
			out = append(out, d.PitchToken(e.Pitches))
		}
	}
	return strings.Join(out, " ")
}

// The common layout's notes and the circle of fifths are common practice, no
// source; the notes beside each case are worked out from them on paper.
func TestMusic(t *testing.T) {
	for _, c := range []struct {
		name, head, in, harp, layout string
		position                     int // 0: same key
		want                         string
	}{
		{"the same position on another harp has the same holes", "harp: A\nsong: E",
			"-2 -3' -4 [1_4] 2 3 10''", "C", "richter", 2, "-2 -3' -4 [1_4] 2 3 10''"},
		{"and on a higher one", "harp: A\nsong: E", "-2 -3' 7", "F", "richter", 2, "-2 -3' 7"},
		{"C5 D5 E5 G5 in cross harp", "harp: C\nsong: C", "4 -4 5 6", "F", "richter", 0, "-2 -3'' -3 -4"},
		{"F5 A5 C6 F6 on a harp an octave below", "harp: F\nsong: F", "4 5 6 7", "low F", "richter", 0,
			"7 8 9 10"},
		{"C5 D5 E5 G5 become G4 A4 B4 D5", "harp: C\nsong: C", "4 -4 5 6", "C", "richter", 2,
			"-2 -3'' -3 -4"},
		{"D5 E5 F#5 A5 go down an octave, where F# is", "harp: C\nsong: C", "4 -4 5 6", "C", "richter", 3,
			"-1 2 -2' -3''"},
		{"each phrase by itself", "harp: C\nsong: C", "| 4 -4 5 6 | 7 8 9", "C", "richter", 3,
			"-1 2 -2' -3'' -8 9' -10"},
		{"F5 is bent on a country harp", "harp: C\nsong: G", "-4 -5 6", "C", "country", 0, "-4 -5' 6"},
		{"what the first harp did not have", "harp: C\nsong: G", "-6 {Bb5} 6", "Bb", "richter", 0, "-7 7 -6"},
		{"octaves split at other corners", "harp: C\nsong: C", "[1_4] [4_7]", "C", "richter", 3,
			"[-1_-4] [-4_-8]"},
		{"no such chord", "harp: C\nsong: G", "[-4_-5_-6]", "C", "richter", 1, "{G5 Bb5 D6}"},
	} {
		d := tabOf(t, c.head, c.in)
		h := harpOf(t, c.harp, c.layout)
		key := d.SongKey
		if c.position > 0 {
			key = harp.SongKey(h.Key(), c.position)
		}
		got, flags := Music(d, h, key, false)
		if tokens(got) != c.want || len(flags) != strings.Count(c.want, "{") {
			t.Errorf("%s: %s (%d flags), want %s", c.name, tokens(got), len(flags), c.want)
		}
	}
}

func TestFlag(t *testing.T) {
	d := tabOf(t, "harp: C\nsong: G", "[-4_-5_-6]_?_62%,_or_-4_30%,_rest_8%")
	got, flags := Music(d, harpOf(t, "C", "richter"), 0, false)
	if len(flags) != 1 || !slices.Equal(flags[0].Notes, []int{79, 82, 86}) ||
		tab.Token(flags[0].Nearest) != "-8" {
		t.Fatalf("%+v", flags)
	}
	e := got.Events[0]
	const want = "? 62%, nearest 6 for G5, 6o for Bb5, -8 for D6, 6 30%, rest 8%"
	if e.Confidence != 0.62 || got.Doubt(e) != want {
		t.Errorf("%s, want %s", got.Doubt(e), want)
	}
}

func TestHoles(t *testing.T) {
	d := tabOf(t, "harp: A\nsong: E\ntuning: 12 cents flat", "-2 -3'' {Bb4} [1_4] -5")
	got, flags := Holes(d, harpOf(t, "G", "richter"))
	if tokens(got) != "-2 -3'' {Ab4} [1_4] -5" || got.SongKey != 2 || len(flags) != 1 ||
		got.TuningCents != 0 || got.Events[0].Pitches[0] != 62 {
		t.Errorf("%s in %d, %d flags, %v", tokens(got), got.SongKey, len(flags), got.Events[0].Pitches)
	}
	if got, flags = Holes(d, harpOf(t, "A", "raised-blow-3")); len(flags) != 2 ||
		got.Events[1].Actions != nil {
		t.Errorf("raised: %s, %+v", tokens(got), flags)
	}
}

func TestPlaces(t *testing.T) {
	for key, want := range map[string]string{"A": "an A harp in E", "low F": "a low F harp in C",
		"F": "an F harp in C", "C": "a C harp in G"} {
		h := harpOf(t, key, "richter")
		if got := describe(tab.Document{Harp: h, SongKey: harp.SongKey(h.Key(), 2)}); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// random is a document of playable events without overbends.
func random(r *rand.Rand, t *testing.T) tab.Document {
	layouts := harp.Layouts()
	h := harpOf(t, []string{"", "low ", "high "}[r.Intn(3)]+harp.KeyName(r.Intn(12)),
		layouts[r.Intn(len(layouts))].Name)
	d := tab.Document{Harp: h, SongKey: r.Intn(12), TuningCents: float64(r.Intn(80) - 40)}
	all := h.Actions(false)
	for i := range r.Intn(25) {
		e := tab.Event{Start: float64(i), End: float64(i) + 0.5, Confidence: r.Float64(), Comment: "mine"}
		a := all[r.Intn(len(all))]
		e.Actions = []harp.Action{a}
		if b := (harp.Action{Breath: a.Breath, Hole: a.Hole + 1 + r.Intn(4)}); a.Bend == 0 &&
			r.Intn(3) == 0 && h.Plays(b) {
			e.Actions = append(e.Actions, b)
		}
		for _, a := range e.Actions {
			e.Pitches = append(e.Pitches, float64(h.MIDI(a))+d.TuningCents/100)
		}
		if r.Intn(4) == 0 {
			d.Phrases = append(d.Phrases, tab.Phrase{Start: e.Start, End: e.End})
		}
		d.Events = append(d.Events, e)
	}
	return d
}

// Whatever the harp and the key: within a phrase every note moves by the same
// interval, which the keys give; degrees stay; times and comments stay; the
// result prints and parses; in the same key on the same harp nothing changes.
func TestMusicRandom(t *testing.T) {
	for seed := range int64(400) {
		r := rand.New(rand.NewSource(seed))
		d := random(r, t)
		layouts := harp.Layouts()
		h := harpOf(t, harp.KeyName(r.Intn(12)), layouts[r.Intn(len(layouts))].Name)
		key := r.Intn(12)
		got, flags := Music(d, h, key, r.Intn(2) == 0)
		flagged := map[int]bool{}
		for _, f := range flags {
			flagged[f.Event] = true
			if len(f.Nearest) == 0 {
				t.Fatalf("seed %d: nothing near %v", seed, f.Notes)
			}
		}
		for _, group := range phrasing.Groups(d) {
			shift := 0
			for n, i := range group {
				was, is := d.Sounding(d.Events[i]), got.Sounding(got.Events[i])
				slices.Sort(was)
				slices.Sort(is)
				if n == 0 {
					shift = is[0] - was[0]
				}
				for k := range was {
					if is[k]-was[k] != shift || harp.PitchClass(shift) != harp.PitchClass(key-d.SongKey) ||
						harp.Degree(is[k], key) != harp.Degree(was[k], d.SongKey) {
						t.Fatalf("seed %d: event %d: %v became %v", seed, i, was, is)
					}
				}
				if (got.Events[i].Actions == nil) != flagged[i] || got.Events[i].Start != d.Events[i].Start ||
					got.Events[i].Comment != "mine" {
					t.Fatalf("seed %d: %+v", seed, got.Events[i])
				}
			}
		}
		var b bytes.Buffer
		if err := tab.WriteText(&b, got); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if _, err := tab.Parse(&b); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if same, flags := Music(d, d.Harp, d.SongKey, false); tokens(same) != tokens(d) || len(flags) > 0 {
			t.Fatalf("seed %d: %s\nbecame\n%s", seed, tokens(d), tokens(same))
		}
	}
}
