package study_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"strings"
	"testing"

	"blowdraw/tabber/lab/solos"
	"blowdraw/tabber/study"
	"blowdraw/tabber/tab"
)

// Shares are those that a script of its own, in another language, counts from the tab's
// JSON. Left out where there is no python3.
func TestCounts(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("no python3")
	}
	for seed := range uint64(6) {
		p := planted
		p.Doubt = 0.1 * float64(seed)
		k := solos.Kit{Harp: []string{"C", "Bb", "low F"}[seed%3], Position: 1 + int(seed%3), BPM: 90, Choruses: 2}
		if k.Position != 2 {
			p.Moves = nil
		}
		d := made(t, seed, k, p)
		for i := range d.Bars { // some bars with two and three chords
			if i%4 == 3 {
				d.Bars[i].Chord = []string{"I V", "I IV V", "IV I"}[i%3]
			}
		}
		var in bytes.Buffer
		if err := tab.WriteJSON(&in, d); err != nil {
			t.Fatal(err)
		}
		c := exec.Command(python, "testdata/count.py")
		c.Stdin = &in
		out, err := c.Output()
		if err != nil {
			t.Fatalf("python3: %v", err)
		}
		var counted struct{ Shares, Ends map[string]float64 }
		if err := json.Unmarshal(out, &counted); err != nil {
			t.Fatal(err)
		}
		s := study.Of([]tab.Document{d})
		all := append(append([]study.Measure{}, s.Notes.Shares...), s.Textures.Shares...)
		checked := 0
		for _, m := range all {
			if strings.HasSuffix(m.Name, "split") {
				continue
			}
			want := counted.Shares[m.Name+"|"+m.Over]
			if math.Abs(m.Value-want) > 2e-3 {
				t.Errorf("seed %d: %s over %q: %g, counted %g", seed, m.Name, m.Over, m.Value, want)
			}
			if want > 0 {
				checked++
			}
		}
		for _, m := range s.Notes.Ends {
			if m.Over == "" && math.Abs(m.Value-counted.Ends[m.Name+"|"]) > 2e-3 {
				t.Errorf("seed %d: phrases end on %s: %g, counted %g", seed, m.Name, m.Value, counted.Ends[m.Name+"|"])
			}
		}
		if checked < 20 {
			t.Errorf("seed %d: only %d shares were held against the count", seed, checked)
		}
	}
}
