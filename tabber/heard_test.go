package tabber

import (
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/pitch"
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
		if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
			t.Fatalf("sox %v: %v\n%s", args, err, out)
		}
		c, _, _, err := decode.Load(path, decode.Options{Rate: pitch.Rate})
		if err != nil {
			t.Fatal(err)
		}
		r := tr.Clip(c)
		want := 0.5 + math.Pow(10, -0.5)*fade
		if len(r.Events) != 1 || math.Abs(r.Events[0].Start-want) > 0.025 {
			t.Errorf("a fade of %g s: %d events, start %.3f s, want %.3f", fade, len(r.Events), r.Events[0].Start, want)
		}
	}
}
