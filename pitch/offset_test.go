package pitch

import (
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"blowdraw/decode/programs"
)

// Source: ISO 16:1975: A4 is 440 Hz. Chords of tones that stand in equal
// temperament on another A4 are off by 1200 times the binary logarithm of the
// ratio, a bent tone among them or not.
func TestOffset(t *testing.T) {
	for _, a4 := range []float64{440, 435, 442, 446, 450, 428.5} {
		for _, bends := range []bool{false, true} {
			x := chords(a4, bends)
			want := wrapCents(1200 * math.Log2(a4/440))
			got, err := Offset(x)
			if math.Abs(wrapCents(got-want)) > 2 || err > 3 {
				t.Errorf("A4 = %g Hz, bends %v: %.2f ± %.2f cents, want %.2f", a4, bends, got, err, want)
			}
		}
	}
}

// chords of four tones, two seconds each, and between them a tone that glides by
// two semitones with vibrato.
func chords(a4 float64, bends bool) []float64 {
	var x []float64
	for _, root := range []float64{45, 50, 52, 45, 57} {
		chord := make([]float64, 2*Rate)
		for _, up := range []float64{0, 4, 7, 10} {
			hz := a4 * math.Exp2((root+up-69)/12)
			for i, v := range partials(len(chord), hz, 0.1, 0.05, 0.03, 0.02) {
				chord[i] += v
			}
		}
		x = append(x, chord...)
		if !bends {
			continue
		}
		phase := 0.0
		for i := range Rate {
			s := float64(i) / Rate
			phase += 2 * math.Pi * a4 * math.Exp2((root+12-69-2*s+0.2*math.Sin(2*math.Pi*5*s))/12) / Rate
			x = append(x, 0.2*math.Sin(phase)+0.1*math.Sin(2*phase))
		}
	}
	return x
}

func TestOffsetOfNothing(t *testing.T) {
	for _, n := range []int{0, 1, 100, Rate} {
		if got, _ := Offset(make([]float64, n)); !math.IsNaN(got) {
			t.Errorf("%d samples of silence: %g, want NaN", n, got)
		}
	}
}

// The same sound played at another speed is off by 1200 times the binary logarithm
// of the speed: SoX plucks strings on notes that it tunes by itself, on A4 = 440 Hz,
// and changes the speed.
func TestOffsetAgainstSoX(t *testing.T) {
	programs.Need(t, "sox")
	for _, speed := range []float64{1, 1.0125, 0.985} {
		path := filepath.Join(t.TempDir(), "plucks.raw")
		args := []string{"-R", "-r", "44100", "-n", "-r", strconv.Itoa(Rate), "-t", "raw",
			"-e", "floating-point", "-b", "64", "-L", path, "synth", "6",
			"pluck", "A3", "pluck", "C#4", "pluck", "E4",
			"remix", "-", "speed", strconv.FormatFloat(speed, 'g', -1, 64)}
		if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
			t.Fatalf("sox: %v: %s", err, out)
		}
		x := readRaw(t, path)
		want := 1200 * math.Log2(speed)
		if got, err := Offset(x); math.Abs(got-want) > 3 {
			t.Errorf("speed %g: %.2f ± %.2f cents, want %.2f", speed, got, err, want)
		}
	}
}

// readRaw reads 64-bit little-endian samples.
func readRaw(t *testing.T, path string) []float64 {
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, len(data)/8)
	for i := range x {
		x[i] = math.Float64frombits(binary.LittleEndian.Uint64(data[8*i:]))
	}
	return x
}
