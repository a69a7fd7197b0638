package contour

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/pitch"
)

// A tone of ffmpeg whose partials from the third on come up, or go down, by so many dB
// over so many seconds opens, or closes, by as much; it begins after 0.1 s.
func TestOpeningOutside(t *testing.T) {
	for _, closing := range []bool{false, true} {
		for _, db := range []float64{6, 12, 18} {
			for _, seconds := range []float64{0.1, 0.2, 0.3} {
				at := "clip((t-0.15)/%g,0,1)"
				if closing {
					at = "clip((0.85-t)/%g,0,1)"
				}
				gain := fmt.Sprintf("pow(10,-%g/20*(1-"+at+"))", db, seconds)
				var partials []string
				for h := 1; h <= 8; h++ {
					p := fmt.Sprintf("0.1/%d*sin(2*PI*%d*t)", h, 392*h)
					if h > 2 {
						p += "*" + gain
					}
					partials = append(partials, p)
				}
				path := filepath.Join(t.TempDir(), "opening.wav")
				x := outside(t, path, "ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i",
					fmt.Sprintf("aevalsrc=exprs='%s':s=22050:d=1", strings.Join(partials, "+")), path)
				l := follow(x, Note{Hz: 392, Low: -200, High: 100})
				b, other := l.Opening(), l.Closing()
				if closing {
					b, other = other, b
				}
				// within openNear of bright counts as there; the first frames are left out
				want := 0.15 + seconds*(1-openNear/db) - 2*pitch.HopSeconds
				if math.Abs(b.DB-db) > 1 || math.Abs(b.Seconds-want) > 0.035 || b.Even < 0.95 || other.DB > 1 {
					t.Errorf("closing %v, %g dB in %g s: %+v, want %.2f s; the other end %.1f dB", closing, db, seconds, b, want, other.DB)
				}
			}
		}
	}
}

// A tone of sox that only grows louder, or swings in loudness, keeps its tone.
func TestLouderIsNotBrighter(t *testing.T) {
	for _, effect := range []string{"fade t 0.3 1 0", "tremolo 5 60", "gain -20"} {
		path := filepath.Join(t.TempDir(), "louder.wav")
		x := outside(t, path, append([]string{"sox", "-n", "-r", "352800", "-b", "16", path, "synth", "1", "sawtooth", "392", "gain", "-6"}, strings.Fields(effect)...)...)
		l := follow(x, Note{Hz: 392, Low: -200, High: 100})
		if b := l.Opening(); b.DB > 1.5 {
			t.Errorf("%s: brighter by %.1f dB", effect, b.DB)
		}
	}
}

// White noise of sox of known level between two tones is air: its power per bin.
func TestAirOutside(t *testing.T) {
	path := filepath.Join(t.TempDir(), "noise.wav")
	quiet := outside(t, path, "sox", "-R", "-n", "-r", "22050", "-b", "16", path, "synth", "1", "whitenoise", "gain", "-30")
	loud := outside(t, path, "sox", "-R", "-n", "-r", "22050", "-b", "16", path, "synth", "1", "whitenoise", "gain", "-18")
	level := func(x []float64) float64 {
		return pitch.Median(NewAnalyzer().Spectra(x, 2, len(x)/pitch.Hop-2).Air([]float64{392}))
	}
	if rise := level(loud) - level(quiet); math.Abs(rise-12) > 1 {
		t.Errorf("noise 12 dB louder is %.1f dB more air", rise)
	}
}
