package tab

import (
	"bytes"
	"errors"
	"math"
	"math/rand"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
)

func text(t testing.TB, d Document) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteText(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func mustParse(t testing.TB, s string) Document {
	t.Helper()
	d, err := Parse(strings.NewReader(s))
	if err != nil {
		t.Fatalf("%v\nin\n%s", err, s)
	}
	return d
}

func TestRoundTrip(t *testing.T) {
	d := example(t)
	first := text(t, d)
	again := mustParse(t, first)
	if second := text(t, again); second != first {
		t.Errorf("printed, parsed, printed:\n%s\nwant\n%s", second, first)
	}
	// What the text shows comes back as it was.
	if again.Recording != d.Recording || again.SongKey != d.SongKey || again.BPM != d.BPM ||
		again.TuningCents != -12.3 ||
		again.Channel != d.Channel || again.Ear != d.Ear || !reflect.DeepEqual(again.Notes, d.Notes) ||
		!reflect.DeepEqual(again.Harp, d.Harp) || !reflect.DeepEqual(again.Remarks, d.Remarks) {
		t.Errorf("header or remarks: %+v", again)
	}
	if len(again.Events) != len(d.Events) || len(again.Phrases) != len(d.Phrases) {
		t.Fatalf("%d events, %d phrases", len(again.Events), len(again.Phrases))
	}
	for i, e := range d.Events {
		g := again.Events[i]
		if math.Abs(g.Start-e.Start) > 0.0005001 || math.Abs(g.End-e.End) > 0.0005001 ||
			!reflect.DeepEqual(g.Actions, e.Actions) ||
			g.Texture != e.Texture || g.Comment != e.Comment {
			t.Errorf("event %d: %+v, want %+v", i, g, e)
		}
		for j := range e.Pitches {
			if math.Abs(g.Pitches[j]-e.Pitches[j]) > 0.11 { // nominal in place of measured
				t.Errorf("event %d: pitches %v, want about %v", i, g.Pitches, e.Pitches)
			}
		}
	}
	if a := again.Events[1].Alternatives; len(a) != 3 || a[0].Confidence != 0.25 ||
		Token(a[0].Actions) != "-3''" {
		t.Errorf("alternatives: %+v", a)
	}
	if again.Events[0].Confidence != 1 || again.Events[1].Confidence != 0.62 {
		t.Errorf("confidence %g, %g", again.Events[0].Confidence, again.Events[1].Confidence)
	}
	if got := again.Events[1].Doubts; !reflect.DeepEqual(got, []Doubt{{HowFarBent, 0}, {StartsLater, 0}}) {
		t.Errorf("doubts %+v", got)
	}
	if !again.Events[5].Checked || again.Events[4].Checked || !again.Phrases[0].Checked {
		t.Errorf("checked: %+v, %+v", again.Events, again.Phrases)
	}
}

// randomDocument makes a document of any harp and any events that a harp has.
func randomDocument(r *rand.Rand) Document {
	layouts := harp.Layouts()
	own, _ := harp.ReadLayout(strings.NewReader("name: mine\n0 4 7 12\n-1 7 11 14"))
	layouts = append(layouts, own)
	l := layouts[r.Intn(len(layouts))]
	key := []string{"", "low ", "high ", "double low "}[r.Intn(4)] + harp.KeyName(r.Intn(12))
	h, err := harp.Parse(key, l)
	if err != nil {
		panic(err)
	}
	d := Document{Harp: h, SongKey: r.Intn(12), TuningCents: 100 * (r.Float64() - 0.5)}
	if r.Intn(2) == 0 {
		d.Recording, d.From, d.To, d.BPM = "a # b: c.wav", 1+r.Float64(), 5000*r.Float64(), 40+200*r.Float64()
	}
	all := h.Actions(true)
	some := func() []harp.Action {
		var out []harp.Action
		first := all[r.Intn(len(all))]
		for _, a := range all {
			if a.Breath == first.Breath &&
				(a == first || a.Hole > first.Hole && r.Intn(9) == 0 && a.Hole != last(out)) {
				out = append(out, a)
			}
		}
		return out
	}
	at := 0.0
	for range r.Intn(30) {
		at += r.ExpFloat64()
		if r.Intn(5) == 0 || len(d.Phrases) == 0 && r.Intn(2) == 0 {
			d.Phrases = append(d.Phrases, Phrase{at, at + r.Float64(), r.Intn(4) == 0})
		}
		e := Event{Start: at, End: at + r.Float64(), Confidence: r.Float64()}
		if r.Intn(6) > 0 {
			e.Actions = some()
		}
		for range max(len(e.Actions), r.Intn(3)) {
			e.Pitches = append(e.Pitches, 40+50*r.Float64())
		}
		for range r.Intn(3) {
			word := DoubtWords()[r.Intn(len(DoubtWords()))]
			if !strings.Contains(e.DoubtWordsOf(), word) {
				e.Doubts = append(e.Doubts, Doubt{word, r.Float64()})
			}
		}
		e.Checked = r.Intn(5) == 0
		for range r.Intn(6) {
			e.Alternatives = append(e.Alternatives, Alternative{Actions: some(), Confidence: r.Float64()})
			if r.Intn(4) == 0 {
				e.Alternatives[len(e.Alternatives)-1].For = 1 + r.Intn(120)
			}
		}
		if r.Intn(4) == 0 {
			e.Comment = "look  # here"
		}
		d.Events = append(d.Events, e)
	}
	if r.Intn(2) == 0 {
		d.Meter = []string{"", "4/4", "12/8", "3/4"}[r.Intn(4)]
		start, first := 3*r.Float64(), r.Intn(9)-3
		for i := range r.Intn(20) {
			d.Bars = append(d.Bars, Bar{Number: first + i, Start: start,
				Chord:      []string{"", "I", "IV", "I V7", "bVII"}[r.Intn(5)],
				Confidence: []float64{0, 0.5, 0.9}[r.Intn(3)]})
			start += 0.01 + 2*r.Float64()
		}
	}
	d.Minor = r.Intn(3) == 0
	for i := range d.Events {
		if r.Intn(5) == 0 {
			d.Remarks = append(d.Remarks, Remark{Before: i - r.Intn(2), Text: "  remark", Heading: r.Intn(2) == 0})
		}
	}
	return d
}

func last(a []harp.Action) int {
	if len(a) == 0 {
		return 0
	}
	return a[len(a)-1].Hole
}

func TestRoundTripRandom(t *testing.T) {
	for seed := range int64(2000) {
		d := randomDocument(rand.New(rand.NewSource(seed)))
		first := text(t, d)
		if second := text(t, mustParse(t, first)); second != first {
			t.Fatalf("seed %d: printed, parsed, printed:\n%s\nwant\n%s", seed, second, first)
		}
	}
}

func TestParseEdited(t *testing.T) {
	d := mustParse(t, "\ufeff# mine\r\nblowdraw tab 1\r\nHarp : bb\r\nsong: F\r\n\r\n"+
		"Phrase\r\n0:01 0.5 -2\r\n\t0:01.5\t0.25\t[-2 -3]  # bleeds\r\n"+
		"0:02.1 1 -3' b3 ? 70%, or -3 30%\r\nPhrase 7 # answer\r\n0:04 .5 2\r\n")
	if d.Harp.Name != "Bb" || d.Harp.Layout.Name != "richter" || d.SongKey != 5 || len(d.Events) != 4 {
		t.Fatalf("%+v", d)
	}
	if want := []Phrase{{Start: 1, End: 3.1}, {Start: 4, End: 4.5}}; !reflect.DeepEqual(d.Phrases, want) {
		t.Errorf("phrases %v, want %v", d.Phrases, want)
	}
	want := []Remark{{Before: -1, Text: "mine"}, {Before: 3, Text: "answer"}}
	if !reflect.DeepEqual(d.Remarks, want) {
		t.Errorf("remarks %v, want %v", d.Remarks, want)
	}
	if d.Events[1].Comment != "bleeds" || d.Events[1].Texture != Double {
		t.Errorf("%+v", d.Events[1])
	}
	first := text(t, d)
	if second := text(t, mustParse(t, first)); second != first {
		t.Errorf("%s\nwant\n%s", second, first)
	}
}

func TestParseErrors(t *testing.T) {
	const head = "blowdraw tab 1\nharp: C\nsong: G\n"
	type mistake struct {
		line, column int
		say          string // a part of the message
	}
	for _, c := range []struct {
		in   string
		want []mistake
	}{
		{"", []mistake{{1, 1, "not a tab document"}}},
		{"hello\n", []mistake{{1, 1, "not a tab document"}, {2, 1, "no \"harp\""}}},
		{"blowdraw tab 2\nharp: C\nsong: G\n", []mistake{{1, 1, "version 2"}}},
		{"blowdraw tab 1\nharp: H\nsong: G\n", []mistake{{2, 7, "harp \"H\""}}},
		{"blowdraw tab 1\nharp: C\nsong: G, third position\n",
			[]mistake{{3, 7, "G is second position, not third"}}},
		{"blowdraw tab 1\nharp: C\nsong: X\nlayout: odd\n", []mistake{{4, 9, "layout \"odd\""}}},
		{"blowdraw tab 1\nharp: C\nsong: G\nblow: 0 4\n", []mistake{{4, 1, "both a blow and a draw"}}},
		{head + "harp: D\ntempo: fast\ntuning: 3 inches\nsection: 0:09 to 0:03\ncolour: blue\n",
			[]mistake{{4, 1, "second \"harp\""}, {5, 8, "tempo"}, {6, 9, "tuning"}, {7, 10, "ends before"}}},
		{head + "0:01 0.5 -9'\n0:02 0.5 [-4\n0:0x 0.5 4\n0:03 soon 4\n0:04 1 4\n0:02 1 4 ? 70%, or -6'' 3%\n",
			[]mistake{{4, 10, "-9'"}, {5, 10, "closing bracket"}, {6, 1, "not a time"},
				{7, 6, "not a length"}, {9, 1, "starts before the event above it, at 0:04.000"},
				{9, 20, "no deeper"}}},
		{head + "0:01 0.5 -4 -5\n0:02 1 4 ? most\n0:02 1 4 ? 200%\n0:02 1 4 ? 50%, 3 20%\n" +
			"0:02 1 4 ? 50%, or 3 often\n0:02 1 {Q4} ? 5%\n",
			[]mistake{{4, 13, "want [-4 -5] for notes"}, {5, 12, "share"}, {6, 11, "share"}, {7, 17, "want or"},
				{8, 20, "not a reading"}, {9, 8, "pitch \"Q4\""}}},
		{head + "nonsense\nspace oddity\nPhrase one\nnote: late\n",
			[]mistake{{4, 1, "begins no line"}, {5, 1, "not a space"}, {6, 8, "heading"},
				{7, 1, "above the first event"}}},
		{head + "Phrase 1 0:05 to 0:06\nPhrase 2 0:01 to 0:02\nPhrase 3\n",
			[]mistake{{5, 1, "starts before the one above"}, {6, 1, "without events needs times"}}},
		{head + "0:07 1 4\nPhrase 1 0:05 to 0:06\n", []mistake{{4, 1, "stands above its heading"}}},
		{head + "0:01 1 ü ü\n", []mistake{{4, 8, "not tab"}, {4, 10, "neither a degree"}}},
	} {
		_, err := Parse(strings.NewReader(c.in))
		var got Errors
		if !errors.As(err, &got) || len(got) != len(c.want) {
			t.Errorf("Parse(%q):\n%v\nwant %d mistakes", c.in, err, len(c.want))
			continue
		}
		for i, w := range c.want {
			if got[i].Line != w.line || got[i].Column != w.column || !strings.Contains(got[i].Text, w.say) {
				t.Errorf("Parse(%q): %v; want line %d, column %d, %q", c.in, got[i], w.line, w.column, w.say)
			}
		}
	}
}

// What the targets here read is at most so many bytes of a document, of plain tab or of a line, so that
// the engine tries thousands a second. What is longer is cut.
const (
	mostFuzzed = 500
	mostPlain  = 120
	mostLine   = 100
)

// reprint checks that whatever parses prints, that what is printed prints the same
// once more, and that a damaged document prints as one without mistakes that has
// all the text of the lines with mistakes; and that all words are accounted for.
func reprint(t *testing.T, s string) {
	t.Helper()
	d, err := Parse(strings.NewReader(s))
	if d.Harp.Layout.Holes() == 0 {
		if err == nil {
			t.Fatalf("%q: no harp and no mistake", s)
		}
		return
	}
	first := text(t, d)
	if second := text(t, mustParse(t, first)); second != first {
		t.Errorf("from %q: printed, parsed, printed:\n%s\nwant\n%s", s, second, first)
	}
	var mistakes Errors
	errors.As(err, &mistakes)
	accounted(t, s, d, mistakes)
	printed := strings.Join(strings.Fields(first), " ")
	for _, m := range mistakes {
		words := strings.Join(strings.Fields(strings.ToValidUTF8(clean(m.Source), "?")), " ")
		if strings.Contains(m.Text, "header has no") || strings.Contains(m.Text, "above its heading") ||
			strings.Contains(m.Text, "not a tab document") {
			continue // nothing on this line to be kept, or it was understood
		}
		if degrees, _, _ := strings.Cut(m.Text, " is not the degree of "); m.Stale &&
			!slices.ContainsFunc(
				strings.Fields(degrees),
				func(w string) bool { return !strings.Contains(words, w) },
			) &&
			slices.ContainsFunc(d.Events, func(e Event) bool { return e.Line == m.Line }) {
			continue // the event is read, and the mistake has the other words
		}
		if !strings.Contains(printed, words) {
			t.Errorf("from %q: %v; the line is lost in\n%s", s, m, first)
		}
	}
}

// damage changes bytes, lines and order of a text.
func damage(r *rand.Rand, s string) string {
	lines := strings.Split(s, "\n")
	for range 1 + r.Intn(4) {
		i, j := r.Intn(len(lines)), r.Intn(len(lines))
		switch r.Intn(4) {
		case 0:
			lines[i], lines[j] = lines[j], lines[i]
		case 1:
			lines = append(lines[:i:i], lines[min(len(lines), i+1+r.Intn(3)):]...)
			if len(lines) == 0 {
				return ""
			}
		case 2:
			lines[i] = []string{"-4 # mine", "4D/5D", "0:03 -2", "verse two", "[1 4", "Phrase",
				"colour: blue", "0:0x 1 4", "+6 ?", "4 5 6", "0:03 1 1 4",
				"-4, -3 scoop -2", "2 draw 4", "-123", "-4 checked -3", "4 ! ? starts earlier, or -3",
				"Phrase checked", "4 ? 90%", "-4 ? or [-4, -5] 5% or -3, blow or draw",
				"{B4 A5} ? nearest -7 for B4, -10 for A5", "4 ? hole, bend"}[r.Intn(21)]
		default:
			if n := len(lines[i]); n > 0 {
				k := r.Intn(n)
				lines[i] = lines[i][:k] + string("x9:-' #[?{\xff"[r.Intn(11)]) + lines[i][k+r.Intn(2):]
			}
		}
	}
	return strings.Join(lines, "\n")
}

func TestDamagedRandom(t *testing.T) {
	for seed := range int64(3000) {
		r := rand.New(rand.NewSource(seed))
		s := damage(r, text(t, randomDocument(r)))
		reprint(t, s)
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
}

// Hard cases: what is printed, and what is reported.
func TestHardCases(t *testing.T) {
	for _, name := range []string{"added", "damaged", "byhand"} {
		in, err := os.ReadFile("testdata/" + name + ".tab")
		if err != nil {
			t.Fatal(err)
		}
		d, err := Parse(bytes.NewReader(in))
		golden(t, name+".want", func(b *bytes.Buffer) error {
			if err := WriteText(b, d); err != nil {
				return err
			}
			if err != nil {
				b.WriteString("---\n" + err.Error() + "\n")
			}
			return nil
		})
	}
}

func TestAddedLines(t *testing.T) {
	const head = "blowdraw tab 1\nharp: C\nsong: G\n"
	type span [2]float64
	for _, c := range []struct {
		in   string
		want []span
	}{
		// as long as the one above
		{"0:01 0.5 -4\n-3\n0:03 1 2\n", []span{{1, 1.5}, {1.5, 2}, {3, 4}}},
		// up to the one below
		{"0:01 0.5 -4\n-3\n0:01.7 1 2\n", []span{{1, 1.5}, {1.5, 1.7}, {1.7, 2.7}}},
		// no room: shared
		{"0:01 0.6 -4\n-3\n-2\n0:01.6 1 2\n", []span{{1, 1.2}, {1.2, 1.4}, {1.4, 1.6}, {1.6, 2.6}}},
		// first of a phrase
		{"0:01 0.5 -4\nPhrase\n-3\n0:03 0.25 2\n", []span{{1, 1.5}, {2.75, 3}, {3, 3.25}}},
		{"-4\n-3\n", []span{{0, 0.5}, {0.5, 1}}},
		{"Phrase 1 0:02 to 0:03\n-4\n-3\nPhrase 2 0:02.8 to 0:04\n0:03 1 1\n",
			[]span{{2, 2.4}, {2.4, 2.8}, {3, 4}}},
		{"0:01 -4\n0:03 0.25 -3\n0:04 +2 # x\n", []span{{1, 1.5}, {3, 3.25}, {4, 4.25}}}, // length left out
		{"0:01 2 4\n0:01.5 0.2 5\n0:01.6 6\n", []span{{1, 3}, {1.5, 1.7}, {1.6, 1.8}}},
		{"0:00 1 4\n-4\n0:00 1 5\n", []span{{0, 0}, {0, 0}, {0, 1}}},
	} {
		d := mustParse(t, head+c.in)
		var got []span
		for _, e := range d.Events {
			got = append(got, span{e.Start, e.End})
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q: %v, want %v", c.in, got, c.want)
		}
	}
}

// One wrong time is reported by itself, not all that come after it.
func TestOrder(t *testing.T) {
	d, err := Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\n0:01 1 1\n5:02 1 2 # far\n" +
		"0:03 1 3\n0:04 1 4\n0:02 1 5\n"))
	var got Errors
	if !errors.As(err, &got) || len(got) != 2 || got[0].Line != 5 ||
		!strings.Contains(got[0].Text, "after the event below it, at 0:03.000") ||
		got[1].Line != 8 || !strings.Contains(got[1].Text, "before the event above it, at 0:04.000") ||
		got[0].Source != "5:02 1 2 # far" {
		t.Errorf("%v", err)
	}
	want := []Remark{{Before: 1, Text: "not understood: 5:02 1 2 # far"},
		{Before: 3, Text: "not understood: 0:02 1 5"}}
	if len(d.Events) != 3 || !reflect.DeepEqual(d.Remarks, want) {
		t.Errorf("%+v", d)
	}
}

func TestLongestOrdered(t *testing.T) {
	for seed := range int64(500) {
		r := rand.New(rand.NewSource(seed))
		x := make([]float64, r.Intn(9))
		for i := range x {
			x[i] = float64(r.Intn(6))
		}
		most := 0
		for set := range 1 << len(x) {
			n, above := 0, 0.0
			for i, v := range x {
				if set>>i&1 == 0 {
					continue
				}
				if v < above {
					n = -1
					break
				}
				n, above = n+1, v
			}
			most = max(most, n)
		}
		n, above := 0, 0.0
		for i, k := range longestOrdered(x) {
			if !k {
				continue
			}
			if x[i] < above {
				t.Fatalf("%v: %v is out of order", x, longestOrdered(x))
			}
			n, above = n+1, x[i]
		}
		if n != most {
			t.Fatalf("%v: kept %d, could be %d", x, n, most)
		}
	}
}

func TestOtherHeaderLines(t *testing.T) {
	d := mustParse(t, "blowdraw tab 1\nharp: C\nTeacher-Note: breathe\nsong: G\nmood:\nmood: blue # green\n")
	want := []HeaderLine{{"Teacher-Note", "breathe"}, {"mood", ""}, {"mood", "blue # green"}}
	if !reflect.DeepEqual(d.Other, want) {
		t.Errorf("%q", d.Other)
	}
	if again := mustParse(t, text(t, d)); !reflect.DeepEqual(again.Other, d.Other) {
		t.Errorf("again: %q", again.Other)
	}
}

func TestLatin1(t *testing.T) {
	d := mustParse(t, "blowdraw tab 1\nharp: C\nsong: G\n0:01 1 -3\x92 # m\xfcde\n")
	if e := d.Events[0]; Token(e.Actions) != "-3'" || e.Comment != "müde" {
		t.Errorf("%+v", e)
	}
}

func FuzzParse(f *testing.F) {
	example, err := os.ReadFile("testdata/example.tab")
	if err != nil {
		f.Fatal(err)
	}
	for begin := string(example); begin != ""; {
		end := strings.LastIndexByte(begin[:min(len(begin), mostFuzzed)], '\n') + 1
		f.Add(begin[:end])
		begin = begin[end:]
	}
	for _, name := range []string{"added", "damaged", "byhand"} {
		hard, err := os.ReadFile("testdata/" + name + ".tab")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(hard))
	}
	f.Add(barredText)
	f.Add("blowdraw tab 1\nharp: C\nsong: G\n    time  length  tab  degree\n" +
		"0:01 0.5 -4  5 scoop\n4 5 6\n-123\n" +
		"–2 –3\n2 draw, blow 4\n-4,-3 vibrato -2\n+4 -4\n0:12.5 0.162 1 4\n1:00:02 1 -3'  5\n8b\n(4)\n-4 5\n")
	f.Add("blowdraw tab 1\nharp: C\nsong: G\nPhrase 1 0:01 to 0:09 checked\n0:01 0.5 -4 checked\n-3 !\n" +
		"4 ? perhaps not the harp\n-4 ? or -3 20%\n-2 ? starts earlier\n4 checked ? 90%\n4 -4 checked 5\n" +
		"-3 ? 62%, which hole, or [-2 -3] 20% or 2, one reed or two\n{B4 A5} ? nearest -7 for B4, -10 for A5 3%\n" +
		"{C4}\n-4 ? Blow  or draw,, hole\n4 ? 100%\n4 ? 3 20%\n4 ? or\n-4 ? 60% starts later\n4 ! ?\n")
	f.Add("blowdraw tab 1\nharp: low F\nsong: C\nlayout: odd\nblow: 0 4 7\ndraw: 2 5 9\nPhrase\n" +
		"0:01 0.5 [-2 -3] ? 9%, or rest 3% # x\n# end")
	f.Fuzz(func(t *testing.T, s string) {
		reprint(t, s[:min(len(s), mostFuzzed)])
	})
}

// What reads as a token is written so that it reads as the same.
func FuzzParseToken(f *testing.F) {
	for _, s := range []string{"4", "-3''", "6o", "[-4 -5]", "(1 4)", "+4", "4B", "3Dbb", "-2/-3"} {
		f.Add(s)
	}
	h, err := harp.Parse("A", harp.Layouts()[0])
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseToken(h, s)
		if err != nil {
			return
		}
		if back, err := ParseToken(h, Token(a)); err != nil || !reflect.DeepEqual(a, back) {
			t.Errorf("%q is %v, written %q, which is %v (%v)", s, a, Token(a), back, err)
		}
	})
}

// The example of the package comment is a document as WriteText writes it.
func TestDocExample(t *testing.T) {
	data, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(data), "looks like this:\n//\n")
	block, _, found := strings.Cut(rest, "//\n// Each event")
	if !found {
		t.Fatal("no example in doc.go")
	}
	want := strings.ReplaceAll(strings.ReplaceAll(block, "//\t", ""), "//\n", "\n")
	if got := text(t, mustParse(t, want)); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
