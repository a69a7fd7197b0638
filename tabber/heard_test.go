package tabber

import (
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// Tones of sox that fade in along a straight line reach 10 dB under their level at 0.316 of
// it (20·log10 0.316 = -10): there they are heard to start, within 25 ms, however long they
// fade. Level: 10 dB under, see package reading.
func TestStartWhereHeard(t *testing.T) {
	programs.Need(t, "sox")
	h := harpOf(t, "A", "richter")
	tr := transcriberOf(t, h, Options{})
	for _, fade := range []float64{0.02, 0.15, 0.3, 0.5} {
		path := filepath.Join(t.TempDir(), "fade.wav")
		args := []string{"-n", "-r", fmt.Sprint(pitch.Rate), path, "synth", "1.5", "sawtooth", "440", "gain", "-12",
			"lowpass", "4000", "fade", "t", fmt.Sprint(fade), "1.5", "0.05", "pad", "0.5", "0.5"}
		soxed(t, args...)
		c, _, _, err := decode.Load(path, decode.Options{Rate: pitch.Rate})
		if err != nil {
			t.Fatal(err)
		}
		r := tr.Clip(c)
		want := 0.5 + math.Pow(10, -0.5)*fade
		if len(r.Events) != 1 || math.Abs(r.Events[0].Start-want) > 0.025 {
			t.Errorf("a fade of %g s: %v, want one event at %.3f s", fade, r.Events, want)
		}
	}
}

// Tones of sox on blow 4 and 5 of an A harp (A4 and C#5, 12 equal steps an octave): 150 ms
// apart a listener hears the first, then both; 30 ms apart one double stop.
func TestReedsOneAfterTheOther(t *testing.T) {
	programs.Need(t, "sox")
	tr := transcriberOf(t, harpOf(t, "A", "richter"), Options{})
	for _, c := range []struct {
		late float64 // seconds
		want []string
	}{{0.03, []string{"[4 5]"}}, {0.15, []string{"4", "[4 5]"}}} {
		dir := t.TempDir()
		first, second := filepath.Join(dir, "4.wav"), filepath.Join(dir, "5.wav")
		both := filepath.Join(dir, "both.wav")
		tone := func(path, hz string, at float64) {
			soxed(
				t,
				"-n",
				"-r",
				fmt.Sprint(pitch.Rate),
				path,
				"synth",
				fmt.Sprint(1.5-at),
				"sawtooth",
				hz,
				"gain",
				"-15",
				"lowpass",
				"4000",
				"fade",
				"t",
				"0.01",
				fmt.Sprint(1.5-at),
				"0.05",
				"pad",
				fmt.Sprint(0.5+at),
				"0.5",
			)
		}
		tone(first, "440", 0)
		tone(second, "554.365", c.late)
		soxed(t, "-m", first, second, both)
		clip, _, _, err := decode.Load(both, decode.Options{Rate: pitch.Rate})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		events := tr.Clip(clip).Events
		for _, e := range events {
			got = append(got, tab.Token(e.Actions))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%g s apart: %q, want %q", c.late, got, c.want)
			continue
		}
		if last := events[len(events)-1].Start; len(events) > 1 && math.Abs(last-0.5-c.late) > 0.025 {
			t.Errorf("%g s apart: both from %.3f s, want %.3f", c.late, last, 0.5+c.late)
		}
	}
}

func soxed(t *testing.T, args ...string) {
	t.Helper()
	if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
		t.Fatalf("sox %v: %v\n%s", args, err, out)
	}
}
