package contour

import (
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/pitch"
)

// outside runs a program that writes the recording at path, and returns it.
func outside(t *testing.T, path string, command ...string) []float64 {
	t.Helper()
	programs.Need(t, command[0])
	if out, err := exec.Command(command[0], command[1:]...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %v\n%s", command, err, out)
	}
	c, _, _, err := decode.Load(path, decode.Options{Rate: pitch.Rate})
	if err != nil {
		t.Fatal(err)
	}
	return c.Samples
}

// follow a note through all of x.
func follow(x []float64, n Note) Line {
	return NewAnalyzer().Spectra(x, 2, len(x)/pitch.Hop-2).Follow(n)
}

// Frequency-modulated tones of ffmpeg (aevalsrc; sox has no sine FM) come back with
// their rate and depth: five partials, each c·sin(2πft)/(2πf) radians off.
func TestVibratoOutside(t *testing.T) {
	for _, hz := range []float64{196, 440, 1175} {
		rates, extents := []float64{5.3, 4, 6.7}, []float64{30, 12, 50}
		if !thorough {
			rates, extents = rates[:1], extents[:2]
		}
		for _, rate := range rates {
			for _, cents := range extents {
				dev := hz * (math.Exp2(cents/1200) - 1)
				var partials []string
				for h := 1; h <= 5; h++ {
					partials = append(
						partials,
						fmt.Sprintf("0.15/%d*sin(%d*(2*PI*%g*t-%g/%g*cos(2*PI*%g*t)))", h, h, hz, dev, rate, rate),
					)
				}
				path := filepath.Join(t.TempDir(), "fm.wav")
				x := outside(t, path, "ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i",
					fmt.Sprintf("aevalsrc=exprs='%s':s=22050:d=1.5", strings.Join(partials, "+")), path)
				v := follow(x, Note{Hz: hz, Low: -200, High: 100}).Vibrato(0)
				if math.Abs(v.Hz-rate) > 0.1 || math.Abs(v.Cents/cents-1) > 0.1 || v.PitchShare < 0.95 {
					t.Errorf(
						"%g Hz, vibrato of %g Hz and %g cents: %.2f Hz and %.1f cents, share %.2f",
						hz,
						rate,
						cents,
						v.Hz,
						v.Cents,
						v.PitchShare,
					)
				}
			}
		}
	}
}

// The tremolo of sox changes the loudness alone: depth d (percent) takes the gain
// from 1 down to 1-d (sox manual).
func TestTremoloOutside(t *testing.T) {
	for _, rate := range []float64{4, 5.5, 7} {
		path := filepath.Join(t.TempDir(), "tremolo.wav")
		x := outside(
			t,
			path,
			"sox",
			"-n",
			"-r",
			"352800",
			"-b",
			"16",
			path,
			"synth",
			"1.5",
			"sawtooth",
			"392",
			"gain",
			"-6",
			"tremolo",
			fmt.Sprint(rate),
			"40",
		)
		v := follow(x, Note{Hz: 392, Low: -200, High: 100}).Vibrato(0)
		want := -20 * math.Log10(1-0.4) / 2
		if math.Abs(v.Hz-rate) > 0.1 || math.Abs(v.DB/want-1) > 0.12 || v.LevelShare < 0.9 || v.Cents > 2 {
			t.Errorf(
				"tremolo of %g Hz and %.2f dB each way: %.2f Hz, %.2f dB, share %.2f, %.1f cents",
				rate,
				want,
				v.Hz,
				v.DB,
				v.LevelShare,
				v.Cents,
			)
		}
	}
}

// Every frame of a sweep of sox (a/b: a fixed number of semitones a second) has the
// pitch that the sweep has at its middle.
func TestSweepOutside(t *testing.T) {
	for _, speed := range []float64{-1000, -400, 100, 700, 1000} { // cents a second
		const seconds = 0.4
		to := 440 * math.Exp2(speed*seconds/1200)
		path := filepath.Join(t.TempDir(), "sweep.wav")
		x := outside(
			t,
			path,
			"sox",
			"-n",
			"-r",
			"352800",
			"-b",
			"16",
			path,
			"synth",
			fmt.Sprint(seconds),
			"sine",
			fmt.Sprintf("440/%g", to),
			"gain",
			"-6",
		)
		l := follow(x, Note{Hz: 440, Low: -700, High: 700})
		for i := 1; i < len(l.Cents)-1; i++ {
			want := speed * float64(l.First+i) * pitch.HopSeconds
			if math.Abs(l.Cents[i]-want) > 5 {
				t.Errorf("sweep of %g cents a second: frame %d at %.1f cents, want %.1f", speed, i, l.Cents[i], want)
			}
		}
	}
}

// A tone of ffmpeg that slides from one frequency to another is a glide of known
// size and length.
func TestGlideOutside(t *testing.T) {
	for _, seconds := range []float64{0.06, 0.12, 0.25} {
		for _, cents := range []float64{-200, -100, 100, 200} {
			move := 440 * (math.Exp2(cents/1200) - 1)
			turns := fmt.Sprintf(
				"(440*t+%g*pow(clip(t-0.4,0,%g),2)+%g*max(t-%g,0))",
				move/2/seconds,
				seconds,
				move,
				0.4+seconds,
			)
			path := filepath.Join(t.TempDir(), "glide.wav")
			x := outside(
				t,
				path,
				"ffmpeg",
				"-v",
				"error",
				"-y",
				"-f",
				"lavfi",
				"-i",
				fmt.Sprintf(
					"aevalsrc=exprs='0.2*sin(2*PI*%[1]s)+0.1*sin(4*PI*%[1]s)+0.1*sin(6*PI*%[1]s)':s=22050:d=%[2]g",
					turns,
					0.8+seconds,
				),
				path,
			)
			s := follow(x, Note{Hz: 440, Low: -300, High: 300}).Glide()
			if want := 0.8 * seconds; math.Abs(s.Cents-cents) > 3 || math.Abs(s.Seconds-want) > 0.025 {
				t.Errorf(
					"glide over %g cents, its middle eight tenths in %.3f s: %.1f cents, %.3f s",
					cents,
					want,
					s.Cents,
					s.Seconds,
				)
			}
		}
	}
}

// aubiopitch on the same frames hears the same pitch. Its documents do not say
// which moment of its window the time is: the lag is searched.
func TestAubioPitch(t *testing.T) {
	programs.Need(t, "aubiopitch")
	path := filepath.Join(t.TempDir(), "note.wav")
	x := outside(t, path, "ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i",
		"aevalsrc=exprs='0.2*sin(2*PI*392*t-2*cos(10*PI*t))+0.2*sin(4*PI*392*t-4*cos(10*PI*t))':s=22050:d=2", path)
	out, err := exec.Command("aubiopitch", "-i", path, "-H", fmt.Sprint(pitch.Hop), "-B", "1024", "-p", "yinfft").
		Output()
	if err != nil {
		t.Fatal(err)
	}
	var theirs []float64
	for line := range strings.Lines(string(out)) {
		hz, err := strconv.ParseFloat(strings.Fields(line)[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		theirs = append(theirs, 1200*math.Log2(hz/392))
	}
	l := follow(x, Note{Hz: 392, Low: -250, High: 130})
	best := math.Inf(1)
	for lag := 0; lag <= 6; lag++ {
		var off []float64
		for i := 20; i < 150; i++ {
			off = append(off, math.Abs(l.Cents[i-l.First]-theirs[i+lag]))
		}
		best = min(best, pitch.Median(off))
	}
	if best > 3 {
		t.Errorf("the median difference from aubiopitch is %.1f cents", best)
	}
}
