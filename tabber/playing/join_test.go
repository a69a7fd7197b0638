package playing

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

// Tones of sox with a softer stretch between them, or none, dip by as much within 1 dB,
// for as long within 10 ms.
func TestDipOutside(t *testing.T) {
	programs.Need(t, "sox")
	dir := t.TempDir()
	sox := func(args ...string) {
		t.Helper()
		if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
			t.Fatalf("sox %v: %v\n%s", args, err, out)
		}
	}
	for _, db := range []float64{0, 4, 12, 20} {
		for _, ms := range []float64{40, 60} {
			tone, soft, path := filepath.Join(
				dir,
				"tone.wav",
			), filepath.Join(
				dir,
				"soft.wav",
			), filepath.Join(
				dir,
				"dip.wav",
			)
			sox("-n", "-r", fmt.Sprint(pitch.Rate), tone, "synth", "0.5", "sine", "600", "gain", "-6")
			sox(
				"-n",
				"-r",
				fmt.Sprint(pitch.Rate),
				soft,
				"synth",
				fmt.Sprint(ms/1000),
				"sine",
				"600",
				"gain",
				fmt.Sprint(-6-db),
			)
			sox(tone, soft, tone, path)
			c, _, _, err := decode.Load(path, decode.Options{Rate: pitch.Rate})
			if err != nil {
				t.Fatal(err)
			}
			got, gap := dipOf(levelAround(c, 0.5+ms/1000, envelope))
			want := ms / 1000
			if db < gapDepth {
				want = 0
			}
			if math.Abs(got-db) > 1 || math.Abs(gap-want) > 0.01 {
				t.Errorf("%g dB for %g ms: %.1f dB for %.0f ms", db, ms, got, 1000*gap)
			}
		}
	}
}
