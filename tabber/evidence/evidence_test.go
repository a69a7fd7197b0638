package evidence

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

func richter(t *testing.T, key string) harp.Harp {
	t.Helper()
	h, err := harp.Parse(key, harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// A pair is rendered with known levels and a known delay: what is measured of the
// second reed comes near.
func TestMeasureRendered(t *testing.T) {
	h := richter(t, "C")
	at := func(b harp.Breath, holes ...int) (out []harp.Action) {
		for _, n := range holes {
			out = append(out, harp.Action{Breath: b, Hole: n})
		}
		return out
	}
	for _, c := range []struct {
		name    string
		actions []harp.Action
		within  float64 // dB; reeds have timbres of their own, which hide more of an octave
	}{
		{"double stop", at(harp.Draw, 4, 5), 2.5},
		{"minor seventh", at(harp.Draw, 2, 5), 2.5},
		{"octave", at(harp.Blow, 2, 5), 7},
	} {
		for _, weaker := range []float64{0, 6, 12} {
			for _, late := range []float64{0, 0.15} {
				r := renderPair(t, h, c.actions, weaker, late)
				if weaker < 12 || c.name != "octave" {
					if math.IsNaN(r.Weaker) || math.Abs(r.Weaker-weaker) > c.within {
						t.Errorf("%s, %g dB weaker: measured %.1f", c.name, weaker, r.Weaker)
					}
				}
				if c.name != "octave" && !(math.Abs(r.Late-late) <= 0.05) {
					t.Errorf("%s, %g dB weaker, %g s late: measured %.2f s", c.name, weaker, late, r.Late)
				}
			}
		}
	}
}

func renderPair(t *testing.T, h harp.Harp, a []harp.Action, weaker, late float64) Reed {
	t.Helper()
	g := []render.Gesture{
		{
			Start:   0.3,
			End:     1.5,
			Actions: a,
			Levels:  []float64{0, -weaker},
			Late:    []float64{0, late},
			Attack:  0.03,
			Release: 0.03,
		},
	}
	notes, events := render.Perform(h, render.Tuning{}, g)
	clip := decode.Clip{Rate: pitch.Rate, Samples: render.Render(notes, render.Set{Seed: 4}, pitch.Rate)}
	var hz []float64
	for _, p := range events[0].Pitches {
		hz = append(hz, pitch.MIDIToHz(p))
	}
	reeds, _ := Measure(clip, 0.3, 1.5, []string{"a", "b"}, hz)
	return reeds[1]
}

// One reed alone: nothing of a neighbour's stands out.
func TestNothingStandsOut(t *testing.T) {
	h := richter(t, "A")
	clip := decode.Clip{
		Rate: pitch.Rate,
		Samples: render.Render(
			[]render.Note{
				{
					Start:   0.1,
					End:     1,
					MIDI:    float64(h.MIDI(harp.Action{Breath: harp.Draw, Hole: 4})),
					Attack:  0.03,
					Release: 0.03,
				},
			},
			render.Set{Seed: 2},
			pitch.Rate,
		),
	}
	hz := func(hole int) float64 {
		return pitch.MIDIToHz(float64(h.MIDI(harp.Action{Breath: harp.Draw, Hole: hole})))
	}
	reeds, _ := Measure(clip, 0.1, 1, []string{"-4", "-5"}, []float64{hz(4), hz(5)})
	if got := showing(reeds[0], reeds[1]); got != "-5: none of its partials stands out." {
		t.Errorf("%s %+v", got, reeds[1])
	}
}

// Names of the intervals that splits and double stops of the common layout make:
// twelve semitones an octave, ten a minor seventh, three and four the thirds
// (Kostka & Payne, "Tonal Harmony", chapter 1; from memory).
func TestKind(t *testing.T) {
	h := richter(t, "C")
	for token, want := range map[string]string{
		"-4": "one note", "[-1 -4]": "octave split", "[-2 -5]": "minor seventh split", "[-4 -5]": "double stop, minor third",
		"[1 2]": "double stop, major third", "[4 7]": "octave split", "[-3 -7]": "octave split", "[1 2 3]": "chord",
	} {
		a, err := tab.ParseToken(h, token)
		if err != nil {
			t.Fatal(err)
		}
		if got := Kind(h, tab.Texture(a), a); got != want {
			t.Errorf("%s: %q, want %q", token, got, want)
		}
	}
}

func TestStrength(t *testing.T) {
	first := Reed{Name: "-4"}
	for _, c := range []struct {
		weaker, late float64
		want         string
	}{
		{11.2, 0, "-5 is about 11 dB weaker than -4 and begins with it."},
		{0.8, 0.12, "-5 is about as strong as -4 and begins 0.12 s after it."},
		{-3, math.NaN(), "-5 is about 3 dB stronger than -4."},
		{math.NaN(), 0, ""},
	} {
		if got := strength(first, Reed{Name: "-5", Weaker: c.weaker, Late: c.late}); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

var twoLooks = []Look{
	{Start: 1, End: 2, Heading: "one note -4 99%"},
	{
		Start:    2,
		End:      3,
		Heading:  "octave split [-1 -4] 90% <&>",
		Words:    []string{"because"},
		Spectrum: Spectrum{Size: 1024, Power: make([]float64, 513)},
		Reeds: []Reed{
			{Name: "-1", Hz: 294, Partials: []Partial{{1, 294, -20, -80, false}, {2, 588, -30, -80, false}}},
			{Name: "-4", Hz: 588, Partials: []Partial{{1, 588, -30, -42, true}}},
		},
	},
}

func TestText(t *testing.T) {
	var b bytes.Buffer
	if err := WriteText(&b, twoLooks, func(s float64) string { return fmt.Sprint(s) }); err != nil {
		t.Fatal(err)
	}
	want := `1  1.000  one note -4 99%
2  1.000  octave split [-1 -4] 90% <&>
    because
       Hz    -1    -4   dB
      294     1          0  ` + strings.Repeat("█", 30) + `
      588     2     1  -10  ` + strings.Repeat("█", 19) + strings.Repeat("▒", 6) + `
`
	if b.String() != want {
		t.Errorf("\n%s\nwant\n%s", b.String(), want)
	}
}

// The drawing is well-formed XML with a mark for every partial.
func TestSVG(t *testing.T) {
	var b bytes.Buffer
	if err := WriteSVG(&b, "a & b", twoLooks, func(s float64) string { return fmt.Sprint(s) }); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, want := range []string{">●1<", ">●2<", ">◆1<", "because"} {
		if strings.Count(text, want) != 1 {
			t.Errorf("%d times %s", strings.Count(text, want), want)
		}
	}
	d := xml.NewDecoder(&b)
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}
