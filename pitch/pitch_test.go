package pitch

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Source: ISO 16:1975, "Acoustics - Standard tuning frequency": A in the treble
// stave is 440 Hz. Its MIDI number is 69 (MIDI 1.0).
func TestStandardPitch(t *testing.T) {
	if hz := MIDIToHz(69); hz != 440 {
		t.Errorf("A4 is %g Hz, want 440", hz)
	}
	if m := HzToMIDI(440); m != 69 {
		t.Errorf("440 Hz is MIDI %g, want 69", m)
	}
}

// Source: Table B.1 of The Canonical Csound Reference Manual
// (testdata/pitch/README.md), to its three decimals, two from 10 kHz up.
func TestPitchTable(t *testing.T) {
	f, err := os.Open("../testdata/pitch/pitch-conversion.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows := 0
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if strings.HasPrefix(sc.Text(), "#") {
			continue
		}
		var midi, hz float64
		var name string
		if _, err := fmt.Sscan(sc.Text(), &midi, &name, &hz); err != nil {
			t.Fatal(err)
		}
		rows++
		rounding := 0.00051
		if hz >= 10000 {
			rounding = 0.0051
		}
		if got := MIDIToHz(midi); math.Abs(got-hz) > rounding {
			t.Errorf("%s: %.4f Hz, the table says %.3f", name, got, hz)
		}
		// The table rounds: half a thousandth of a hertz is 0.11 cents at 8 Hz.
		if got := HzToMIDI(hz); math.Abs(got-midi) > 0.0011 {
			t.Errorf("%g Hz is MIDI %.4f, the table says %g", hz, got, midi)
		}
	}
	if rows != 128 {
		t.Errorf("%d rows, want 128", rows)
	}
}

// powerOf the Hann-windowed sound at Rate.
func powerOf(x []float64) []float32 {
	n := len(x)
	y := make([]float64, n)
	for i, v := range x {
		y[i] = v * (0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n)))
	}
	c := fourier.NewFFT(n).Coefficients(nil, y)
	p := make([]float32, len(c))
	for i, v := range c {
		p[i] = float32(real(v)*real(v) + imag(v)*imag(v))
	}
	return p
}

// partials sounds harmonics of hz with the given amplitudes.
func partials(n int, hz float64, amplitudes ...float64) []float64 {
	x := make([]float64, n)
	for h, a := range amplitudes {
		for i := range x {
			x[i] += a * math.Sin(2*math.Pi*hz*float64(h+1)*float64(i)/Rate+float64(h))
		}
	}
	return x
}

// Deviation finds by how many cents tones are off, whatever their partials.
func TestDeviation(t *testing.T) {
	const size = 4096
	for _, amplitudes := range [][]float64{
		{1}, {1, 0.5, 0.33, 0.25, 0.2, 0.17}, {0.05, 0.2, 1, 0.7, 0.5, 0.3}, // a weak fundamental, as reeds have
	} {
		for _, hz := range []float64{196, 261.63, 392, 587.33, 932.33, 1567.98} {
			for _, off := range []float64{-50, -23, -5, 0, 5, 17, 45} {
				x := partials(size, hz*math.Exp2(off/1200), amplitudes...)
				got := Deviation(powerOf(x), size, hz)
				if !(math.Abs(got-off) <= 3) { // NaN fails too
					t.Errorf("%d partials on %g Hz, %g cents off: got %.2f", len(amplitudes), hz, off, got)
				}
			}
		}
	}
}

func TestDeviationOfNothing(t *testing.T) {
	if got := Deviation(make([]float32, 2049), 4096, 440); !math.IsNaN(got) {
		t.Errorf("silence deviates by %g, want NaN", got)
	}
}

// A whole-number weight stands for so many copies of the value.
func TestWeightedMedian(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		var values, weights, copies []float64
		for range 1 + rng.IntN(8) {
			v, w := math.Round(rng.NormFloat64()*10), rng.IntN(4)
			if len(values) == 0 {
				w = 1 // weights that sum to zero have no median
			}
			values, weights = append(values, v), append(weights, float64(w))
			for range w {
				copies = append(copies, v)
			}
		}
		slices.Sort(copies)
		n := len(copies)
		want := (copies[(n-1)/2] + copies[n/2]) / 2
		got := WeightedMedian(values, weights)
		if got != want {
			t.Fatalf("WeightedMedian(%v, %v) = %g, want %g", values, weights, got, want)
		}
	}
	if got := WeightedMedian(nil, nil); !math.IsNaN(got) {
		t.Errorf("the median of nothing is %g, want NaN", got)
	}
	if got := WeightedMedian([]float64{1, 2, 10}, []float64{1, 1, 5}); got != 10 {
		t.Errorf("got %g, want the heavy 10", got)
	}
}

func TestPercentile(t *testing.T) {
	v := []float32{30, 10, 50, 20, 40}
	for q, want := range map[float64]float64{0: 10, 0.25: 20, 0.5: 30, 0.75: 40, 1: 50, 0.6: 30, 0.65: 40} {
		if got := Percentile(v, q); got != want {
			t.Errorf("Percentile(%g) = %g, want %g", q, got, want)
		}
	}
	if v[0] != 30 {
		t.Error("the values were sorted in place")
	}
	if got := Percentile(nil, 0.5); !math.IsNaN(got) {
		t.Errorf("the percentile of nothing is %g, want NaN", got)
	}
}

// A tone between two silences: its row and cents, and nothing outside it.
func TestTrack(t *testing.T) {
	axis := Axis{Base: 60} // a C harp
	const row = 15         // D5, draw 4: 14 semitones above hole 1 blow
	hz := axis.Hz(row) * math.Exp2(20/1200.0)
	if d := centsBetween(axis.Hz(row), 587.33); math.Abs(d) > 0.1 {
		t.Fatalf("row %d is %g Hz, want 587.33 (Table B.1)", row, axis.Hz(row))
	}
	x := make([]float64, 3*Rate)
	copy(x[Rate:], partials(Rate, hz, 0.2, 0.1, 0.1, 0.05))
	f := NewTrack(x, 100, axis).Frames(axis)
	if f.N != len(x)/Hop+1 {
		t.Fatalf("%d frames, want %d", f.N, len(x)/Hop+1)
	}
	sounding, sum := 0, 0.0
	for i := range f.N {
		at := f.Time(i) - 100
		for r := range Rows {
			k := i*Rows + r
			switch p := f.Sounding[k]; {
			case p > 0.5 && r != row:
				t.Errorf("%.2f s: row %d sounds", at, r)
			case p > 0.5 && (at < 0.95 || at > 2.05):
				t.Errorf("%.2f s: row %d sounds in the silence", at, r)
			case p > 0.5:
				sounding++
				sum += at
				if at > 1.05 && at < 1.95 && math.Abs(float64(f.Cents[k])-20) > 2 {
					t.Errorf("%.2f s: %.1f cents, want 20", at, f.Cents[k])
				}
			case r == row && at > 1.05 && at < 1.95:
				t.Errorf("%.2f s: the tone sounds with probability %.2f only", at, p)
			}
		}
		if at > 1.1 && at < 1.9 {
			// RMS of sines of amplitude 0.2, 0.1, 0.1, 0.05.
			want := 10 * math.Log10((0.04+0.01+0.01+0.0025)/2)
			if math.Abs(float64(f.Level[i])-want) > 0.5 {
				t.Errorf("%.2f s: level %.2f dB, want %.2f", at, f.Level[i], want)
			}
		}
	}
	if sounding < 80 {
		t.Errorf("the tone sounds in %d frames, want about 86", sounding)
	}
	if middle := sum / float64(sounding); math.Abs(middle-1.5) > HopSeconds {
		t.Errorf("the middle of the tone is at %.3f s, want 1.5", middle)
	}
}

// Shifting the axis leaves the measured frequencies where they are.
func TestShift(t *testing.T) {
	f := NewFrames(Axis{Base: 60, Cents: 5}, 0, 1)
	f.Cents[7] = 12
	before := f.Axis.Hz(7) * math.Exp2(float64(f.Cents[7])/1200)
	f.Shift(-20)
	after := f.Axis.Hz(7) * math.Exp2(float64(f.Cents[7])/1200)
	if f.Axis.Cents != -20 || math.Abs(centsBetween(after, before)) > 1e-4 {
		t.Errorf("%g Hz became %g Hz on an axis at %g cents", before, after, f.Axis.Cents)
	}
}

func TestFramesOfShortSounds(t *testing.T) {
	axis := Axis{Base: 60}
	for _, n := range []int{0, 1, Hop - 1, Hop, 1000} {
		f := NewTrack(make([]float64, n), 0, axis).Frames(axis)
		if f.N != n/Hop+1 {
			t.Errorf("%d samples: %d frames, want %d", n, f.N, n/Hop+1)
		}
		for k, p := range f.Sounding {
			if p != 0 {
				t.Errorf("%d zeros: row %d sounds", n, k%Rows)
			}
		}
	}
}

// BenchmarkTrack hears 20 seconds; the metric is how many times real time.
func BenchmarkTrack(b *testing.B) {
	x := partials(20*Rate, 440, 0.2, 0.1, 0.05)
	for b.Loop() {
		NewTrack(x, 0, Axis{Base: 60})
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
