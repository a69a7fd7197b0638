package studypage

import (
	"errors"
	"io"
	"strings"
	"testing"

	"blowdraw/tabber/lab/solos"
	"blowdraw/tabber/study"
	"blowdraw/tabber/tab"
)

// studied is a player of solos with something planted, and the solos' names.
func studied(t testing.TB, seed uint64, names ...string) (Player, []tab.Document) {
	t.Helper()
	var tabs []tab.Document
	var p Player
	for i, name := range names {
		d, err := solos.Solo(seed+uint64(i), solos.Kit{Harp: "C", Position: 2, BPM: 96, Choruses: 3}, solos.Player{
			Lean:  []solos.Lean{{Chord: "IV", Degree: "b7", Times: 12}},
			Rough: []solos.Rough{{Bars: []int{9, 10}, Chance: 0.9}},
		})
		if err != nil {
			t.Fatal(err)
		}
		tabs = append(tabs, d)
		p.Solos = append(p.Solos, Solo{Name: name})
	}
	p.Study = study.Of(tabs)
	return p, tabs
}

func pageOf(t testing.TB, p Player) string {
	t.Helper()
	var b strings.Builder
	if err := Write(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A page names its solos as they are, however they are spelt, needs no network, and has a
// player only if something can be heard.
func TestWrite(t *testing.T) {
	p, _ := studied(t, 1, "a <b> & \"c\".tab", "second.tab")
	silent := pageOf(t, p)
	for _, want := range []string{
		"1: a &lt;b&gt; &amp; &#34;c&#34;.tab", "2: second.tab", "Content-Security-Policy",
		"default-src &#39;none&#39;",
		"<h2>1 Notes over chords</h2>", "More b7 over IV",
	} {
		if !strings.Contains(silent, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, not := range []string{"<b>&", "http://", "https://", `id="play"`} {
		if strings.Contains(silent, not) {
			t.Errorf("the page has %q", not)
		}
	}
	p.Solos[1].Rate, p.Solos[1].Samples = 8000, make([]float64, 8000)
	if loud := pageOf(t, p); !strings.Contains(loud, `id="play"`) {
		t.Error("a recording is given and can't be heard")
	}
}

// Two players stand side by side, under A and B, with what differs.
func TestWriteBeside(t *testing.T) {
	a, tabsA := studied(t, 1, "one.tab")
	b, tabsB := studied(t, 9, "other.tab")
	var out strings.Builder
	if err := WriteBeside(&out, a, b, study.Compare(tabsA, tabsB).Differences); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`class="beside"`, "A: one.tab", "B: other.tab", "degree b7"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(pageOf(t, a), `class="beside"`) {
		t.Error("one player stands beside another")
	}
}

// What can't be written is an error that says what was being done.
func TestClosed(t *testing.T) {
	r, w := io.Pipe()
	r.Close()
	err := Write(w, Player{})
	if !errors.Is(err, io.ErrClosedPipe) || !strings.HasPrefix(err.Error(), "writing the page") {
		t.Errorf("a closed pipe: %v", err)
	}
}

// A place is played from its solo's sound, counted over all players; a solo without sound is
// not heard.
func TestPlaces(t *testing.T) {
	v := viewer{solos: 2, first: 3, sounds: []Solo{{}, {Samples: []float64{0}}}}
	got := v.places([]study.Place{{Solo: 0, From: 1, To: 2}, {Solo: 1, From: 61.26, To: 62, At: "3|2"}})
	want := []placeView{
		{Text: "1: 0:01.0", Sound: -1, From: 1, To: 2}, {Text: "2: 3|2 1:01.3", Sound: 4, From: 61.26, To: 62},
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%+v, want %+v", got[i], want[i])
		}
	}
}

// Shades are of the largest value; rows without any are left out, and what is beyond chance has
// its sign.
func TestShades(t *testing.T) {
	p, less := 0.01, 0.5
	list := []study.Measure{
		{Name: "1", Value: 0.4}, {Name: "1", Over: "IV", Value: 0.1, P: &p, Expected: &less},
		{Name: "b2"}, {Name: "b2", Over: "IV"},
	}
	s := viewer{}.shadesOf("degree", list, nil, "")
	if len(s.Rows) != 1 || len(s.Head) != 2 || s.Head[0] != "whole" || s.Head[1] != "IV" {
		t.Fatalf("%+v, want one row over the whole and IV", s)
	}
	whole, over := s.Rows[0].Cells[0], s.Rows[0].Cells[1]
	if whole.Shade != 10 || whole.Text != "40%" || whole.Sign != "" {
		t.Errorf("the largest: %+v", whole)
	}
	if over.Shade != 3 || over.Sign != "less" || !strings.Contains(over.Title, "by chance 50%, p 0.01") {
		t.Errorf("a quarter of it: %+v, want shade 3, less than by chance", over)
	}
	if s := (viewer{}).shadesOf("degree", list[2:], nil, ""); s != nil {
		t.Errorf("nothing is played: %+v", s)
	}
}

// Labels of notes that follow closely go to lower rows, and the first row is free again later.
func TestMoveLabels(t *testing.T) {
	m := study.Move{Variants: []study.Variant{{}}, Notes: []study.Step{
		{Tab: "-3'''", From: 0, To: 0.2}, {Tab: "-4", From: 0.3, To: 0.5}, {Tab: "5", From: 3, To: 4},
	}}
	got := viewer{}.move(m)
	for i, y := range []int{18, 54, 18} {
		if got.Steps[i].Y != y {
			t.Errorf("label %d is %d pixels down, want %d", i, got.Steps[i].Y, y)
		}
	}
	if last := got.Steps[2]; last.Left != 0.75*drawn || last.Wide != 0.25*drawn || len(got.Beats) != 3 {
		t.Errorf("the last of four beats: %+v, lines at %v", last, got.Beats)
	}
}
