package form

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"blowdraw/onset"
	"blowdraw/onset/beat"
)

// The forms as bands play them. Source: Gotham et al., "Open Music Theory", chapter
// "Blues harmony", for the twelve bars and the quick change (from memory, not looked
// up); eight and sixteen bars are common practice, no source.
var played = []struct{ name, chords string }{
	{"twelve-bar", "I I I I IV IV I I V IV I V"},
	{"twelve-bar", "I IV I I IV IV I I V IV I I"},
	{"eight-bar", "I V IV IV I V I V"},
	{"sixteen-bar", "I I I I I I I I IV IV I I V IV I V"},
}

var bands = []band{
	{"walking bass and backbeat", "walk", "stabs", "shuffle", 104, 2. / 3, 4},
	{"no drums", "walk", "stabs", "", 126, 2. / 3, 9},
	{"held chords, straight", "walk", "held", "rock", 84, 0.5, 7},
}

// heardBars is what is found in a rendered accompaniment of that tempo.
func heardBars(t *testing.T, x []float64, bpm float64, opt Options) (Sound, Bars) {
	t.Helper()
	var s Sound
	s.Add(x, rate, 0, 0)
	strength := beat.Strength{Hop: 256. / rate, Values: onset.Strength(x, rate, 256)}
	r := beat.Find(strength, nil, 0, float64(len(x))/rate, bpm)
	return s, FindBars(s, r.Beats, nil, opt)
}

// Accompaniments by fluidsynth that begin anywhere in bar and form: the first beat of
// the bar is right, and so are the form and the chords of its bars.
func TestRenderedForms(t *testing.T) { checkForms(t, 1) }

// checkForms checks the first of the forms as all bands play them.
func checkForms(t *testing.T, forms int) {
	barsRight, formsRight, all := 0, 0, 0
	for i, f := range played[:forms] {
		for j, b := range bands {
			first, lead := 1+(5*i+3*j)%8, float64(1+(i+j)%3)
			name := fmt.Sprintf("%s of %s from bar %d, %g beats early", f.name, b.name, first, lead)
			d := degrees(t, f.chords)
			x := render(t, b.accompany(d, first, 14, 4, lead), b.bpm)
			s, bars := heardBars(t, x, b.bpm, Options{Key: &b.key})
			all++
			right := 0
			for _, k := range bars.Firsts {
				if at := bars.Beats[k]*b.bpm/60 - lead; math.Abs(math.Remainder(at, 4)) < 0.2 {
					right++
				}
			}
			if bars.Sure < SureFrom || right*10 < len(bars.Firsts)*9 {
				t.Logf("%s: %d of %d bars, sure %.2f", name, right, len(bars.Firsts), bars.Sure)
				continue
			}
			barsRight++
			p := FindForm(s, bars, nil, b.key, Forms(), -1)
			skipped := int(math.Round((bars.Beats[bars.Firsts[0]]*b.bpm/60 - lead) / 4))
			want := (first-1+skipped)%len(d) + 1
			if p.Form.Name != f.name || p.First != want || p.Sure < SureFrom {
				t.Logf("%s: %s from bar %d, sure %.2f", name, p.Form.Name, p.First, p.Sure)
				continue
			}
			formsRight++
			for k, c := range p.Chords[:12] {
				if roots[c] != d[(want-1+k)%len(d)] {
					t.Errorf("%s: bar %d is %s", name, want+k, c)
				}
			}
		}
	}
	t.Logf("bars right in %d of %d, form in %d", barsRight, all, formsRight)
	if barsRight < all*9/10 || formsRight < all*3/4 {
		t.Errorf("bars right in %d of %d, form in %d", barsRight, all, formsRight)
	}
}

// Three beats to the bar if told so.
func TestThreeFour(t *testing.T) {
	b := band{"waltz", "one", "stabs", "waltz", 132, 0, 2}
	x := render(t, b.accompany(degrees(t, played[0].chords), 1, 14, 3, 0), b.bpm)
	_, bars := heardBars(t, x, b.bpm, Options{Meter: 3, Key: &b.key})
	if bars.Sure < SureFrom || len(bars.Firsts) < 12 {
		t.Fatalf("%d bars, sure %.2f", len(bars.Firsts), bars.Sure)
	}
	for _, k := range bars.Firsts {
		if at := bars.Beats[k] * b.bpm / 60; math.Abs(math.Remainder(at, 3)) > 0.2 {
			t.Errorf("bar at beat %.2f", at)
		}
	}
}

// A chord that never changes tells no form, and a key that the song is not in none
// either.
func TestNoForm(t *testing.T) {
	b := bands[0]
	x := render(t, b.accompany([]int{0}, 1, 12, 4, 0), b.bpm)
	s, bars := heardBars(t, x, b.bpm, Options{Key: &b.key})
	if p := FindForm(s, bars, nil, b.key, Forms(), -1); p.Sure >= SureFrom && p.Form.Name != "" {
		t.Errorf("one chord: %+v", p)
	}
	x = render(t, b.accompany(degrees(t, played[0].chords), 1, 12, 4, 0), b.bpm)
	s, bars = heardBars(t, x, b.bpm, Options{})
	if p := FindForm(s, bars, nil, (b.key+6)%12, Forms(), -1); p.Form.Name != "" {
		t.Errorf("in another key: %+v", p)
	}
}

// Without a band nothing is sure.
func TestNoBand(t *testing.T) {
	beats := []float64{0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4}
	var s Sound
	s.Add(make([]float64, 5*rate), rate, 0, 0)
	notes := []Note{{0, 0.4, 64}, {1, 1.4, 67}, {2.5, 3, 69}}
	bars := FindBars(s, beats, notes, Options{})
	if bars.Sure >= SureFrom {
		t.Errorf("bars of silence: sure %.2f", bars.Sure)
	}
	if p := FindForm(s, bars, notes, 0, Forms(), -1); p.Form.Name != "" {
		t.Errorf("form of silence: %+v", p)
	}
}

func TestBarsAt(t *testing.T) {
	beats := []float64{0.1, 0.6, 1.1, 1.6, 2.1, 2.6, 3.1, 3.6, 4.1, 4.6}
	at := 1.2
	b := FindBars(Sound{}, beats, nil, Options{At: &at})
	if !slices.Equal(b.Firsts, []int{2, 6}) || b.One != 0 || math.Abs(b.Beats[2]-1.2) > 1e-9 || b.Sure != 1 {
		t.Errorf("%+v", b)
	}
	b = FindBars(Sound{}, beats, nil, Options{At: &at, Fixed: true, Meter: 3})
	if !slices.Equal(b.Firsts, []int{2, 5, 8}) || b.Beats[2] != 1.1 {
		t.Errorf("fixed, in three: %+v", b)
	}
	p := Forms()[0].At(4, 2)
	if p.First != 11 || !slices.Equal(p.Chords, []string{"I", "V", "I", "I"}) {
		t.Errorf("two bars before the form: %+v", p)
	}
}

// Heard window by window, it is the same sound.
func TestSoundOfWindows(t *testing.T) {
	b := bands[0]
	x := render(t, b.accompany([]int{0, 5}, 1, 3, 4, 0), b.bpm)
	var whole, parts Sound
	whole.Add(x, rate, 2, 10)
	for _, w := range [][2]int{{0, 3 * rate}, {2 * rate, 5 * rate}, {4*rate + 123, len(x)}} {
		parts.Add(x[w[0]:w[1]], rate, 2+float64(w[0])/rate, 10)
	}
	if len(parts.Notes) != len(whole.Notes) || len(parts.Kick) != len(whole.Kick) {
		t.Fatalf("%d and %d frames, want %d and %d",
			len(parts.Notes), len(parts.Kick), len(whole.Notes), len(whole.Kick))
	}
	for i := range whole.Notes {
		if whole.Notes[i] != parts.Notes[i] {
			t.Fatalf("frame %d differs", i)
		}
	}
	if !slices.Equal(whole.Kick, parts.Kick) || !slices.Equal(whole.Snare, parts.Snare) {
		t.Error("drums differ")
	}
}
