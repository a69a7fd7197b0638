//go:build long

package main

import (
	"bytes"
	"encoding/binary"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
)

// Every command that listens copes with them, from the search for the harp to the
// page: it ends with exit code 0, or with one line that says why not.
func TestOddSignalsEverywhere(t *testing.T) {
	dir := t.TempDir()
	score := put(t, dir, "odd.tab", []byte(tabHead+"0:00.000 0.5 -2\n0:00.600 0.5 [-4 -5] ?\n"))
	commands := map[string][]string{
		"transcribe": {}, "transcribe all": {"--harp", "C", "--marks", "all", "--keep-voice", "--overbends",
			"--blow-3", "--format", "json"},
		"transcribe find": {"--harp", "C", "--find"}, "harps": {"--section=5"}, "phrases": {"--harp", "C"},
		"texture": {}, "texture harp": {"--harp", "C"},
		"check": {score, "--recording"}, "refine": {score, "--recording"},
	}
	sounds := oddFiles(t, dir)
	for name, in := range sounds {
		for c, flags := range commands {
			t.Run(name+"/"+c, func(t *testing.T) {
				word, _, _ := strings.Cut(c, " ")
				code, stdout, stderr := command(append(append([]string{word}, flags...), in)...)
				if code == 0 && stdout != "" && !strings.Contains(stdout, "NaN") &&
					!strings.Contains(stdout, "Inf") {
					return
				}
				for line := range strings.Lines(stderr) { // what is odd about the recording
					if strings.HasSuffix(line, "silence instead\n") ||
						strings.Contains(line, ": no sound above") {
						stderr = strings.Replace(stderr, line, "", 1)
					}
				}
				checkTrouble(t, code, stdout, stderr, exitFailed, "no notes")
			})
		}
	}
	if left := listing(t, dir); len(left) != 2+len(sounds) {
		t.Errorf("files left: %q", left)
	}
}

// oddFiles are oddSignals at one of the rates each, in mono or against noise on the
// right, a single sample, and floating-point samples that are no numbers or far over
// full scale.
func oddFiles(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	write := func(name string, b []byte) { files[name] = put(t, dir, "odd "+name+".wav", b) }
	i := 0
	for _, name := range slices.Sorted(maps.Keys(oddSignals)) {
		rate := []int{8000, 192000}[i%2]
		left, right := make([]float64, rate), make([]float64, rate)
		for k := range left {
			left[k], right[k] = oddSignals[name].at(k, rate), oddSignals["noise"].at(k+1, rate)/2
		}
		if i++; i%3 == 0 {
			left = interleaved(left, right)
			write(name, floatWAV(rate, 2, left))
			continue
		}
		write(name, floatWAV(rate, 1, left))
	}
	write("sample", floatWAV(44100, 1, []float64{0.5}))
	bad := make([]float64, 22050)
	for k := range bad {
		bad[k] = []float64{math.NaN(), math.Inf(1), 0.5, -0.5, 0.3}[k%5]
	}
	write("no number", floatWAV(22050, 1, bad))
	for k := range bad {
		bad[k] = 1e30 * math.Sin(2*math.Pi*587.33*float64(k)/22050)
	}
	write("huge", floatWAV(22050, 1, bad))
	return files
}

func interleaved(left, right []float64) []float64 {
	var out []float64
	for i := range left {
		out = append(out, left[i], right[i])
	}
	return out
}

// floatWAV is a WAV file with 32-bit floating-point samples (format tag 3 of
// Microsoft's "Multimedia Data Standards Update", 1994).
func floatWAV(rate, channels int, x []float64) []byte {
	var b bytes.Buffer
	b.WriteString("RIFF")
	binary.Write(&b, binary.LittleEndian, uint32(36+4*len(x)))
	b.WriteString("WAVEfmt ")
	for _, v := range []any{uint32(16), uint16(3), uint16(channels), uint32(rate),
		uint32(4 * channels * rate), uint16(4 * channels), uint16(32)} {
		binary.Write(&b, binary.LittleEndian, v)
	}
	b.WriteString("data")
	binary.Write(&b, binary.LittleEndian, uint32(4*len(x)))
	for _, v := range x {
		binary.Write(&b, binary.LittleEndian, float32(v))
	}
	return b.Bytes()
}
