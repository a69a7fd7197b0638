package loudness

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
)

func sine(hz, db, seconds float64, rate int) []float64 {
	x := make([]float64, int(seconds*float64(rate)))
	for i := range x {
		x[i] = math.Pow(10, db/20) * math.Sin(2*math.Pi*hz*float64(i)/float64(rate))
	}
	return x
}

// The filters' coefficients at 48 kHz: ITU-R BS.1770, annex 1, tables 1 and 2
// (typed from memory).
func TestFilters(t *testing.T) {
	near := func(what string, got, want float64) {
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %.14f, want %.14f", what, got, want)
		}
	}
	s, h := shelf(48000), highPass(48000)
	near("b0", s.b0, 1.53512485958697)
	near("b1", s.b1, -2.69169618940638)
	near("b2", s.b2, 1.19839281085285)
	near("a1", s.a1, -1.69065929318241)
	near("a2", s.a2, 0.73248077421585)
	near("a1", h.a1, -1.99004745483398)
	near("a2", h.a2, 0.99007225036621)
}

// BS.1770: a full-scale sine of 997 Hz in one channel is -3.01 LKFS. EBU Tech 3341,
// table 1, cases 1 to 4: 1000 Hz in two channels (from memory).
func TestKnownSignals(t *testing.T) {
	join := func(parts ...[]float64) (out []float64) {
		for _, p := range parts {
			out = append(out, p...)
		}
		return out
	}
	for _, rate := range []int{22050, 44100, 48000} {
		at := func(db, seconds float64) []float64 { return sine(1000, db, seconds, rate) }
		for _, c := range []struct {
			name     string
			channels int
			x        []float64
			want     float64
		}{
			{"997 Hz", 1, sine(997, 0, 5, rate), -3.01},
			{"case 1", 2, at(-23, 20), -23},
			{"case 2", 2, at(-33, 20), -33},
			{"case 3", 2, join(at(-36, 10), at(-23, 60), at(-36, 10)), -23},
			{"case 4", 2, join(at(-72, 10), at(-36, 10), at(-23, 60), at(-36, 10), at(-72, 10)), -23},
		} {
			channels := [][]float64{c.x, c.x}[:c.channels]
			if got := Integrated(channels, rate); math.Abs(got-c.want) > 0.1 {
				t.Errorf("%s at %d Hz: %.2f LUFS, want %.2f", c.name, rate, got, c.want)
			}
		}
	}
	if got := Integrated([][]float64{make([]float64, 48000)}, 48000); !math.IsInf(got, -1) {
		t.Errorf("silence: %g", got)
	}
}

// Noise with pauses against ffmpeg's meter, which is of its own making.
func TestAgainstFFmpeg(t *testing.T) {
	programs.Need(t, "ffmpeg")
	rng := rand.New(rand.NewPCG(3, 4))
	const rate = 44100
	x := make([]float64, 12*rate)
	for i := range x {
		if i/rate%3 < 2 {
			x[i] = 0.05 * rng.NormFloat64() * (1 + float64(i)/float64(len(x)))
		}
	}
	path := filepath.Join(t.TempDir(), "noise.wav")
	var wav bytes.Buffer
	if err := decode.WriteWAV(&wav, decode.Clip{Rate: rate, Samples: x}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, wav.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("ffmpeg", "-nostdin", "-hide_banner", "-i", path,
		"-af", "ebur128", "-f", "null", "-").CombinedOutput()
	if err != nil {
		t.Fatalf("ffmpeg: %v\n%s", err, out)
	}
	m := regexp.MustCompile(`I:\s+(-[0-9.]+) LUFS`).FindAllSubmatch(out, -1)
	if len(m) == 0 {
		t.Fatalf("ffmpeg told no loudness:\n%s", out)
	}
	want, _ := strconv.ParseFloat(string(m[len(m)-1][1]), 64)
	if got := Integrated([][]float64{x}, rate); math.Abs(got-want) > 0.15 {
		t.Errorf("%.2f LUFS, ffmpeg says %.1f", got, want)
	}
}
