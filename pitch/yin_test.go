package pitch

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"blowdraw/decode/programs"
)

// need leaves out a test for want of a program, or of a file by its full path.
func need(t *testing.T, names ...string) {
	t.Helper()
	for _, p := range names {
		if filepath.IsAbs(p) {
			programs.NeedFiles(t, p)
		} else {
			programs.Need(t, p)
		}
	}
}

// output runs a program and returns what it prints.
func output(t *testing.T, program string, args ...string) []byte {
	t.Helper()
	var out, trouble bytes.Buffer
	c := exec.Command(program, args...)
	c.Stdout, c.Stderr = &out, &trouble
	if err := c.Run(); err != nil {
		t.Fatalf("%s %s: %v\n%s", program, strings.Join(args, " "), err, trouble.String())
	}
	return out.Bytes()
}

// floats reads little-endian 64-bit samples.
func floats(b []byte) []float64 {
	x := make([]float64, len(b)/8)
	for i := range x {
		x[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return x
}

// soxTone is a second of a tone by sox, synthesized at 16 times the rate so that
// its partials do not fold back.
func soxTone(t *testing.T, shape string, hz float64) []float64 {
	t.Helper()
	return floats(output(t, "sox", "-D", "-r", strconv.Itoa(16*Rate), "-n", "-c", "1", "-t", "f64", "-",
		"synth", "1", shape, fmt.Sprintf("%.6f", hz), "gain", "-12", "rate", "-v", strconv.Itoa(Rate)))
}

// likeliest candidate, zero if there is none.
func likeliest(c []Candidate) Candidate {
	var best Candidate
	for _, x := range c {
		if x.Probability > best.Probability {
			best = x
		}
	}
	return best
}

func centsBetween(a, b float64) float64 { return 1200 * math.Log2(a/b) }

// Source: sox's own oscillators, whose frequency is exact. YIN is exact to a
// small part of a sample in its period; 2 cents are 1 part in 865, well under the
// 5 cents or so that a trained listener hears. The range covers all harps, from
// double low (hole 1 blow of a low F: 87 Hz) to high G (hole 10 blow: 3136 Hz).
func TestYinOnSteadyTones(t *testing.T) {
	need(t, "sox")
	y := NewYin(75, 3300)
	for _, shape := range []string{"sine", "sawtooth", "square", "triangle"} {
		for _, hz := range []float64{80, 97.3, 146.83, 261.63, 440, 698.46, 1046.5, 1396.91, 2093, 2637.02, 3000} {
			x := soxTone(t, shape, hz)
			if len(x) != Rate {
				t.Fatalf("sox gave %d samples, want %d", len(x), Rate)
			}
			for at := 3000; at < len(x)-3000; at += 1111 {
				if c := likeliest(y.At(x, at)); math.Abs(centsBetween(c.Hz, hz)) > 2 || c.Probability < 0.9 {
					t.Errorf("%s at %g Hz, sample %d: heard %.3f Hz (%.2f cents off), probability %.2f",
						shape, hz, at, c.Hz, centsBetween(c.Hz, hz), c.Probability)
				}
			}
		}
	}
}

// Noise has no fundamental: whatever is found must be doubted.
func TestYinDoubtsNoise(t *testing.T) {
	need(t, "sox")
	x := floats(output(t, "sox", "-D", "-R", "-r", strconv.Itoa(Rate), "-n", "-c", "1", "-t", "f64", "-",
		"synth", "2", "whitenoise"))
	y := NewYin(75, 3300)
	frames, sure := 0, 0
	for at := 2000; at < len(x)-2000; at += Hop {
		frames++
		if likeliest(y.At(x, at)).Probability > 0.5 {
			sure++
		}
	}
	if frames < 100 || sure > 0 {
		t.Errorf("%d of %d frames of noise have a sure fundamental", sure, frames)
	}
	if c := y.At(make([]float64, 8192), 4096); likeliest(c).Probability > 0.5 {
		t.Errorf("zeros have the fundamental %v", likeliest(c))
	}
}

const (
	soundFont = "/usr/share/sounds/sf2/FluidR3_GM.sf2" // Debian fluid-soundfont-gm
	harmonica = 22                                     // counted from 0: General MIDI program 23, Harmonica
)

// midiFile plays keys one after the other for a second each, with half a second
// between (Standard MIDI File 1.0, format 0; 100 ticks a beat, two beats a
// second).
func midiFile(keys []int) []byte {
	track := []byte{0, 0xc0, harmonica}
	for i, k := range keys {
		wait := byte(100) // half a second
		if i == 0 {
			wait = 0
		}
		track = append(track, wait, 0x90, byte(k), 100, 0x81, 0x48, 0x80, byte(k), 0) // 0x8148 is 200
	}
	track = append(track, 0, 0xff, 0x2f, 0)
	b := append([]byte("MThd"), 0, 0, 0, 6, 0, 0, 0, 1, 0, 100)
	b = binary.BigEndian.AppendUint32(append(b, "MTrk"...), uint32(len(track)))
	return append(b, track...)
}

// aubioPitch runs aubio's own implementation of YIN and returns the track as
// times and Hz.
func aubioPitch(t *testing.T, wav string) (times, hz []float64) {
	t.Helper()
	text := output(t, "aubiopitch", "-i", wav, "-r", "0", "-p", "yin", "-B", "2048", "-H", "256")
	for line := range strings.Lines(string(text)) {
		var at, f float64
		if _, err := fmt.Sscan(line, &at, &f); err != nil {
			t.Fatalf("aubiopitch wrote %q: %v", line, err)
		}
		times, hz = append(times, at), append(hz, f)
	}
	return times, hz
}

// Against aubio (Brossier 2006, a general-purpose library) on sampled reeds from
// a sound font: both must agree within 10 cents on the steady part of each note,
// and the note be the one played.
func TestYinAgainstAubio(t *testing.T) {
	need(t, "sox", "fluidsynth", "aubiopitch", soundFont)
	keys := []int{55, 60, 64, 67, 69, 72, 74, 77, 79, 82, 84, 88, 91}
	dir := t.TempDir()
	mid, stereo, mono := filepath.Join(dir, "a.mid"), filepath.Join(dir, "a.wav"), filepath.Join(dir, "b.wav")
	if err := os.WriteFile(mid, midiFile(keys), 0o600); err != nil {
		t.Fatal(err)
	}
	output(t, "fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-r", "44100", "-F", stereo, soundFont, mid)
	output(t, "sox", "-D", stereo, mono, "rate", "-v", strconv.Itoa(Rate), "remix", "1,2", "norm", "-3")
	x := floats(output(t, "sox", "-D", mono, "-t", "f64", "-"))
	times, theirs := aubioPitch(t, mono)
	y := NewYin(75, 3300)
	for i, key := range keys {
		from := 1.5*float64(i) + 0.4
		var our, their, difference, one []float64
		for j, at := range times {
			if at < from || at > from+0.45 {
				continue
			}
			c := likeliest(y.At(x, int(at*Rate)))
			our = append(our, 100*(HzToMIDI(c.Hz)-float64(key)))
			their = append(their, 100*(HzToMIDI(theirs[j])-float64(key)))
			difference, one = append(difference, centsBetween(c.Hz, theirs[j])), append(one, 1)
		}
		if len(one) < 30 {
			t.Fatalf("key %d: %d frames to compare", key, len(one))
		}
		d := WeightedMedian(difference, one)
		if math.Abs(d) > 10 {
			t.Errorf("key %d: we hear %+.1f cents, aubio %+.1f; median of the differences %+.2f",
				key, WeightedMedian(our, one), WeightedMedian(their, one), d)
		}
		if off := WeightedMedian(our, one); math.Abs(off) > 20 {
			t.Errorf("key %d: we hear %+.1f cents from the key that was played", key, off)
		}
	}
}
