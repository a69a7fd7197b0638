package page

import (
	"bytes"
	"math"
	"regexp"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

const hostile = `</title></script><script>alert("x")</script><img src=x>`

func document(t *testing.T, text string) tab.Document {
	t.Helper()
	d, err := tab.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func write(t *testing.T, p Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func quiet(d tab.Document) Page { return Page{Tab: d, Rate: 8000, Samples: make([]float64, 80000)} }

func TestHostileText(t *testing.T) {
	html := write(t, quiet(document(t, "blowdraw tab "+
		"1\nrecording: "+hostile+"\nharp: A\nsong: E\nnote: "+hostile+
		"\n0:01 0.5 -2 # "+hostile+"\n# "+hostile+"\n")))
	if strings.Contains(html, hostile) || strings.Contains(html, "<img") ||
		strings.Contains(html, "<script>alert") {
		t.Error("text from outside stands in the page as it is")
	}
	if n := strings.Count(html, "</script>"); n != 3 {
		t.Errorf("%d ends of scripts, want those of the data, the sound and the program", n)
	}
}

func TestNothingIsLoaded(t *testing.T) {
	html := write(t, quiet(document(t, "blowdraw tab 1\nharp: A\nsong: E\n0:01 0.5 -2\n")))
	for _, loads := range []string{" src=", " href=", "url(", "@import", "http:", "https:", "fetch(",
		"import("} {
		if strings.Contains(html, loads) {
			t.Errorf("the page has %q", loads)
		}
	}
	policy := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(html)
	if policy == nil || !strings.HasPrefix(policy[1], "default-src &#39;none&#39;;") ||
		strings.Contains(policy[1], "unsafe") {
		t.Errorf("policy %q", policy)
	}
}

// TestDataIsJSON guards against numbers that JSON lacks.
func TestDataIsJSON(t *testing.T) {
	p := quiet(document(t, "blowdraw tab 1\nharp: A\nsong: E\ntempo: 90 bpm\n0:01 0.5 -2\n"))
	p.Samples[7] = math.NaN()
	p.Pitches = [][]float64{nil, {math.NaN()}, {60.5, 64}}
	write(t, p)
}

// TestCells wants every cell to be tab that the harp plays and that gives its note.
func TestCells(t *testing.T) {
	for _, l := range harp.Layouts() {
		h, err := harp.Parse("low F", l)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{}
		for _, c := range cells(tab.Document{Harp: h, SongKey: 0}) {
			a, err := tab.ParseToken(h, c.Tab)
			if err != nil || h.MIDI(a[0]) != c.MIDI || a[0].Breath.String() != c.Breath ||
				a[0].Hole != c.Hole {
				t.Errorf("%s: %+v: %v", l.Name, c, err)
			}
			if seen[c.Say] {
				t.Errorf("%s: two are read out as %q", l.Name, c.Say)
			}
			seen[c.Say] = true
		}
		if len(seen) != len(h.Actions(true)) {
			t.Errorf("%s: %d cells", l.Name, len(seen))
		}
	}
}

// TestPlaces wants the nearest place to be the one that the document names.
func TestPlaces(t *testing.T) {
	for _, meter := range []string{"4/4", "12/8", "3/4"} {
		d := document(t, "blowdraw tab 1\nharp: A\nsong: E\ntempo: 100 bpm\nmeter: "+meter+
			"\nbar 3 0:02.000\nbar 4 0:04.400\nbar 5 0:06.700\n0:03 0.5 -2\n")
		all := places(d, 0, 12)
		times := beats(d, 0, 12)
		for ms := 100; ms <= 12000; ms += 7 {
			at := float64(ms) / 1000
			want, _ := d.PlaceAt(at)
			near := all[0]
			for _, p := range all {
				if math.Abs(float64(p.At-ms)) < math.Abs(float64(near.At-ms)) {
					near = p
				}
			}
			was, _ := d.TimeAt(want)
			if near.Name != want.String() &&
				math.Abs(math.Abs(was-at)-math.Abs(float64(near.At)/1000-at)) > 0.0015 {
				t.Fatalf("%s: %d ms is at %s, want %v", meter, ms, near.Name, want)
			}
		}
		for i := 1; i < len(times); i++ {
			a, _ := d.BeatAt(times[i-1] / 1000)
			b, _ := d.BeatAt(times[i] / 1000)
			if math.Abs(b-a-1) > 1e-9 {
				t.Errorf("%s: %g and %g ms are %g beats apart", meter, times[i-1], times[i], b-a)
			}
		}
	}
}

func TestFileName(t *testing.T) {
	for recording, want := range map[string]string{
		"solo.wav": "solo.tab", `a/b\c:"d"?.mp3`: "a-b-c--d--.tab", "": "A harp.tab", "..": "harp.tab",
		"x\ny.wav": "x y.tab",
	} {
		h, err := harp.Parse("A", harp.Layouts()[0])
		if err != nil {
			t.Fatal(err)
		}
		if got := fileName(tab.Document{Recording: recording, Harp: h}); got != want {
			t.Errorf("%q is saved as %q, want %q", recording, got, want)
		}
	}
}

func TestCurve(t *testing.T) {
	p := Page{Pitches: [][]float64{{69.1, 72}, nil, {60, 64, 67, 70, 72}}}
	got := curve(p, 10)
	// 6900 7190; none; 5990 6390 6690 6990
	want := []byte{0xf4, 0x1a, 0x16, 0x1c, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x66, 0x17, 0xf6, 0x18, 0x22,
		0x1a, 0x4e, 0x1b}
	if !bytes.Equal(got, want) {
		t.Errorf("% x\nwant\n% x", got, want)
	}
}
