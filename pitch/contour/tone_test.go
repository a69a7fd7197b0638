package contour

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"blowdraw/pitch"
)

// hands looks at a recording that is one note through all its frames.
func hands(x []float64, n Note) (opening, closing Brighten) {
	s := NewAnalyzer().Spectra(x, 2, len(x)/pitch.Hop-2)
	return s.Hands(s.Follow(n), n.Hz, 0, s.Len())
}

// A tone of ffmpeg whose partials above 700 Hz come up, or go down, by so many dB an
// octave over so many seconds opens, or closes, by as much, whatever its pitch, from 0.15 s
// on, or until 0.15 s before its end.
func TestHandsOutside(t *testing.T) {
	for _, closing := range []bool{false, true} {
		pitches := []float64{523, 220, 1397}
		if !thorough {
			pitches = pitches[:1]
		}
		for _, hz := range pitches {
			for _, slope := range []float64{4, 12} {
				for _, seconds := range []float64{0.1, 0.25} {
					at := "clip((t-0.15)/%g,0,1)"
					if closing {
						at = "clip((0.85-t)/%g,0,1)"
					}
					var partials []string
					for h := 1.0; h*hz < 5000; h++ {
						octaves := math.Log2(max(h*hz/700, 1))
						partials = append(
							partials,
							fmt.Sprintf("0.1/%g*sin(2*PI*%g*t)*pow(10,-%g/20*(1-"+at+"))", h, h*hz, slope*octaves, seconds),
						)
					}
					path := filepath.Join(t.TempDir(), "hands.wav")
					x := outside(t, path, "ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i",
						fmt.Sprintf("aevalsrc=exprs='%s':s=22050:d=1", strings.Join(partials, "+")), path)
					b, other := hands(x, Note{Hz: hz, Low: -200, High: 100})
					if closing {
						b, other = other, b
					}
					// the first two frames are left out
					want := 0.15 + seconds*(1-max(toneNear, toneShare*slope)/slope) - 2*pitch.HopSeconds
					if math.Abs(b.Slope()/slope-1) > 0.1 || math.Abs(b.Seconds-want) > 0.035 || b.Even < 0.95 ||
						other.DB > 1 {
						t.Errorf(
							"%g Hz, closing %v, %g dB an octave in %g s: %+v, want %.2f s; the other end %.1f dB",
							hz,
							closing,
							slope,
							seconds,
							b,
							want,
							other.DB,
						)
					}
				}
			}
		}
	}
}

// Lowpasses of sox of first and second order, which fall off by 6 and 12 dB an octave
// (sox manual), crossfaded from 0.2 to 0.35 s with the tone as it is: dark at first, then
// open. Near its corner a filter falls off by less than further up.
func TestLowpassOutside(t *testing.T) {
	for order, want := range map[string]float64{"-1": 6, "-2": 12} {
		for _, hz := range []string{"220", "523", "988"} {
			dir := t.TempDir()
			dark, open, path := filepath.Join(
				dir,
				"dark.wav",
			), filepath.Join(
				dir,
				"open.wav",
			), filepath.Join(
				dir,
				"both.wav",
			)
			tone := []string{"-r", "352800", "-b", "24", "synth", "1.5", "sawtooth", hz, "gain", "-9"}
			make := func(path string, effects ...string) {
				outside(
					t,
					path,
					append(
						append([]string{"sox", "-n"}, append(tone[:4:4], path)...),
						append(tone[4:len(tone):len(tone)], effects...)...)...)
			}
			make(dark, "lowpass", order, "500", "fade", "t", "0", "0.35", "0.15")
			make(open, "trim", "0.2", "fade", "t", "0.15", "pad", "0.2")
			x := outside(t, path, "sox", "-m", "-v", "1", dark, "-v", "1", open, path)
			f, _ := strconv.ParseFloat(hz, 64)
			b, _ := hands(x, Note{Hz: f, Low: -200, High: 100})
			if b.Slope() < 0.75*want || b.Slope() > 1.05*want || b.Seconds < 0.16 || b.Seconds > 0.33 {
				t.Errorf("lowpass %s of a tone of %s Hz: %+v", order, hz, b)
			}
		}
	}
}

// A tone of sox that only grows louder, swings in loudness or is dark all along keeps its
// tone.
func TestLouderIsNotBrighter(t *testing.T) {
	for _, effect := range []string{"fade t 0.3 1 0", "fade t 0 1 0.3", "tremolo 5 60", "gain -20", "lowpass 900"} {
		path := filepath.Join(t.TempDir(), "louder.wav")
		x := outside(
			t,
			path,
			append(
				[]string{"sox", "-n", "-r", "352800", "-b", "16", path, "synth", "1", "sawtooth", "392", "gain", "-6"},
				strings.Fields(effect)...)...)
		if opening, closing := hands(x, Note{Hz: 392, Low: -200, High: 100}); opening.DB > 1.5 || closing.DB > 1.5 {
			t.Errorf("%s: brighter by %.1f and %.1f dB", effect, opening.DB, closing.DB)
		}
	}
}

// White noise of sox of known level between two tones is air: its power per bin.
func TestAirOutside(t *testing.T) {
	path := filepath.Join(t.TempDir(), "noise.wav")
	quiet := outside(
		t,
		path,
		"sox",
		"-R",
		"-n",
		"-r",
		"22050",
		"-b",
		"16",
		path,
		"synth",
		"1",
		"whitenoise",
		"gain",
		"-30",
	)
	loud := outside(
		t,
		path,
		"sox",
		"-R",
		"-n",
		"-r",
		"22050",
		"-b",
		"16",
		path,
		"synth",
		"1",
		"whitenoise",
		"gain",
		"-18",
	)
	level := func(x []float64) float64 {
		return pitch.Median(NewAnalyzer().Spectra(x, 2, len(x)/pitch.Hop-2).Air([]float64{392}))
	}
	if rise := level(loud) - level(quiet); math.Abs(rise-12) > 1 {
		t.Errorf("noise 12 dB louder is %.1f dB more air", rise)
	}
}
