package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"blowdraw/onset/beat"
	"blowdraw/tabber"
	"blowdraw/tabber/beats"
	"blowdraw/tabber/tab"
)

// swung is tones on swung eighths, two to one, at the tempo.
func swung(bpm float64, beats int) []float64 {
	const rate = 22050
	x := make([]float64, int(float64(beats)*60/bpm*rate))
	for b := range beats {
		for i, part := range []float64{0, 2. / 3} {
			hz := []float64{523.25, 587.33}[i]
			from := int((float64(b) + part) * 60 / bpm * rate)
			for k := range int(0.2 * 60 / bpm * rate) {
				t := float64(k) / rate
				gain := 0.3 * min(1, t/0.01)
				for h := 1.0; h <= 5; h++ {
					x[from+k] += gain / h * math.Sin(2*math.Pi*hz*h*t)
				}
			}
		}
	}
	return x
}

func TestTempo(t *testing.T) {
	path := put(t, t.TempDir(), "swung.wav", wavOf(t, swung(104, 24)))
	transcribe := func(args ...string) map[string]any {
		t.Helper()
		code, stdout, stderr := command(append([]string{"transcribe", path, "--harp", "C", "--format",
			"json"}, args...)...)
		if code != 0 {
			t.Fatal(stderr)
		}
		var d map[string]any
		if err := json.Unmarshal([]byte(stdout), &d); err != nil {
			t.Fatal(err)
		}
		return d
	}
	if bpm, _ := transcribe()["bpm"].(float64); math.Abs(bpm-104) > 1 {
		t.Errorf("%g bpm, want 104", bpm)
	}
	given := transcribe("--bpm", "103.5")
	if given["bpm"] != 103.5 {
		t.Errorf("--bpm 103.5: %v", given["bpm"])
	}
	if code, stdout, stderr := command("transcribe", path, "--harp", "C", "--bpm", "104"); code != 0 ||
		!strings.Contains(stdout, "\ntempo:     104.0 bpm\n") {
		t.Errorf("no tempo in the header: %s%s", stdout, stderr)
	}
}

func TestTempoNote(t *testing.T) {
	const unclear = "no bars, where they begin is not clear: --bar-at TIME tells it"
	first := []tab.Event{{Start: 61.5}}
	for want, r := range map[string]beat.Result{
		"":      {BPM: 100},
		unclear: {BPM: 100, Beats: []float64{1, 1.6}},
		"straight eighths|no bars, where they begin is not clear: if on the first note, --bar-at 1:01.500, " +
			"or a line bar 1 1:01.500 above it, tells so": {BPM: 100, Beats: []float64{61.5, 62.1},
			Feel: beat.Straight},
		"straight eighths; if the tempo is wrong, " +
			"try --bpm 50.0": {BPM: 100, Alternative: 50,
			Feel: beat.Straight, SwingRatio: 1},
		"no bars, three beats to the bar seem likelier than four: if so, --meter 3/4, if " +
			"not, --meter 4/4": {BPM: 99, Beats: []float64{1, 1.6}},
		"swung eighths, 1.9 to 1": {BPM: 100, Feel: beat.Swing, SwingRatio: 1.9},
		"beats in triplets":       {BPM: 100, Feel: beat.Triplet},
	} {
		heard := tabber.Result{Found: beats.Found{Tempo: r}}
		heard.Bars.Three = r.BPM == 99
		if len(r.Beats) > 0 && r.Beats[0] == first[0].Start {
			heard.Events = first
		}
		if got := strings.Join(tempoNote(heard), "|"); got != want {
			t.Errorf("%+v: %q, want %q", r, got, want)
		}
	}
}
