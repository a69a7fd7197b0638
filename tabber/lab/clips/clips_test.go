package clips

import (
	"bytes"
	"errors"
	"io/fs"
	"math"
	"slices"
	"sync"
	"testing"

	"blowdraw/decode/programs"
	"blowdraw/pitch"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"
)

// openOnce opens the sound bank; all its keys are measured for that.
var openOnce = sync.OnceValues(func() (*bank, error) { return openBank(BankPath) })

// installed skips a test for want of what err says is not installed; where the
// environment variable CI is set it fails, as it does for any other error.
func installed(t testing.TB, err error) {
	t.Helper()
	if errors.Is(err, fs.ErrNotExist) {
		programs.Missing(t, "%v", err)
	}
	programs.Check(t, err, ErrMissing)
}

// needBank is the sound bank, if it is installed.
func needBank(t testing.TB) *bank {
	t.Helper()
	b, err := openOnce()
	installed(t, err)
	return b
}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// cut is x between two times in seconds, as far as it goes.
func cut(x []float64, from, to float64) []float64 {
	a := min(max(int(from*Rate), 0), len(x))
	return x[a:max(a, min(int(to*Rate), len(x)))]
}

// Standard MIDI Files 1.0: the examples of variable-length quantities in the
// specification's table (from memory).
func TestVariableLength(t *testing.T) {
	for n, want := range map[int][]byte{
		0x00: {0x00}, 0x40: {0x40}, 0x7f: {0x7f}, 0x80: {0x81, 0x00}, 0x2000: {0xc0, 0x00},
		0x3fff: {0xff, 0x7f}, 0x4000: {0x81, 0x80, 0x00}, 0x1fffff: {0xff, 0xff, 0x7f},
		0x200000: {0x81, 0x80, 0x80, 0x00}, 0xfffffff: {0xff, 0xff, 0xff, 0x7f},
	} {
		if got := variableLength(n); !bytes.Equal(got, want) {
			t.Errorf("%#x: % x, want % x", n, got, want)
		}
	}
}

// The bank sounds what is asked for: pitch, level, start and end of single
// notes all over the range.
func TestBankNotes(t *testing.T) {
	b := needBank(t)
	var notes []render.Note
	at := 0.5
	for midi := 41.0; midi <= 101; midi += 4.3 {
		for k, attack := range []float64{0.025, 0.06} {
			notes = append(notes, render.Note{Start: at, End: at + 0.8, MIDI: midi, Level: -6 * float64(k),
				Attack: attack, Release: 0.04})
			at += 1.3
		}
	}
	x, err := b.play(notes)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range notes {
		settled := cut(x, n.Start+0.3, n.End-0.05)
		level := effect.RMS(settled)
		if db := decibels(level / 0.1); math.Abs(db-n.Level) > 1.5 {
			t.Errorf("MIDI %.1f: level %.1f dB, want %.0f", n.MIDI, db, n.Level)
		}
		want := pitch.MIDIToHz(n.MIDI)
		if cents := 1200 * math.Log2(fundamental(settled, want)/want); math.Abs(cents) > 5 {
			t.Errorf("MIDI %.1f: %.1f cents off", n.MIDI, cents)
		}
		if db := decibels(effect.RMS(cut(x, n.Start-0.1, n.Start-0.006))/level + 1e-9); db > -40 {
			t.Errorf("MIDI %.1f, attack %g: %.1f dB before the start", n.MIDI, n.Attack, db)
		}
		if late := rise(x, n.Start, level); late < -0.005 || late > 0.03 {
			t.Errorf("MIDI %.1f, attack %g: passes -20 dB %.0f ms after the start", n.MIDI, n.Attack, 1000*late)
		}
		if db := decibels(effect.RMS(cut(x, n.End+0.06, n.End+0.1))/level + 1e-9); db > -35 {
			t.Errorf("MIDI %.1f: %.1f dB 60 ms after the end", n.MIDI, db)
		}
	}
}

// rise is when x passes 20 dB under level, in seconds after t.
func rise(x []float64, t, level float64) float64 {
	for d := -0.05; d < 0.3; d += 0.001 {
		if effect.RMS(cut(x, t+d-0.002, t+d+0.002)) > level/10 {
			return d
		}
	}
	return math.Inf(1)
}

// Two reeds that sound together bend apart: one glides down a whole tone while
// the other stays.
func TestBankReedsBendApart(t *testing.T) {
	b := needBank(t)
	high := render.Note{Start: 0.5, End: 2.5, MIDI: 79, Attack: 0.05, Release: 0.05}
	low := render.Note{Start: 0.5, End: 2.5, MIDI: 69, Attack: 0.05, Release: 0.05,
		Contour: []render.Point{{At: 0.8, Value: 0}, {At: 1.2, Value: -200}}}
	x, err := b.play([]render.Note{high, low})
	if err != nil {
		t.Fatal(err)
	}
	before, after := cut(x, 0.8, 1.25), cut(x, 1.8, 2.4)
	for _, c := range []struct {
		x       []float64
		on, off float64
	}{{before, 69, 67}, {before, 79, 77}, {after, 67, 69}, {after, 79, 77}} {
		if on, off := amplitude(c.x, pitch.MIDIToHz(c.on)), amplitude(c.x, pitch.MIDIToHz(c.off)); on < 20*off {
			t.Errorf("MIDI %g at %g, MIDI %g at %g", c.on, on, c.off, off)
		}
	}
}

// amplitude of x at hz through a Hann window.
func amplitude(x []float64, hz float64) float64 {
	var re, im float64
	for i, v := range x {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(len(x)))
		s, c := math.Sincos(2 * math.Pi * hz * float64(i) / Rate)
		re += v * w * c
		im += v * w * s
	}
	return 4 * math.Hypot(re, im) / float64(len(x))
}

// The truth is sound: events in order, on the harp, with the right words and
// pitches, inside phrases.
func TestHardSetTruth(t *testing.T) {
	for _, c := range categories() {
		textures := map[string]int{}
		for i := range PerCategory {
			clip, _, _ := c.compose(1, i)
			if len(clip.Gestures) != len(clip.Events) || len(clip.Events) < 4 {
				t.Fatalf("%s: %d gestures, %d events", clip.Name, len(clip.Gestures), len(clip.Events))
			}
			last := 0.0
			for k, e := range clip.Events {
				if e.Start < last || e.End < e.Start+0.04 || e.End > Seconds {
					t.Errorf("%s event %d runs from %.3f to %.3f after %.3f", clip.Name, k, e.Start, e.End, last)
				}
				last = e.End
				textures[e.Texture]++
				for j, a := range e.Actions {
					if !clip.Harp.Plays(a) || a.Breath != e.Actions[0].Breath {
						t.Errorf("%s event %d: %v", clip.Name, k, e.Actions)
					}
					if d := e.Pitches[j] - float64(clip.Harp.MIDI(a)) - clip.Cents/100; math.Abs(d) > 0.45 {
						t.Errorf("%s event %d: pitch %.2f is %.2f from its note", clip.Name, k, e.Pitches[j], d)
					}
				}
				if !slices.ContainsFunc(clip.Phrases,
					func(p tab.Phrase) bool { return p.Start <= e.Start && e.End <= p.End }) {
					t.Errorf("%s event %d is in no phrase", clip.Name, k)
				}
			}
		}
		t.Logf("%-7s %v", c.name, textures)
	}
}

// The dry harp of the additive reeds sounds what the truth says, in one clip of each
// category; all clips of both kinds of reeds are for the long tests.
func TestRenderedSound(t *testing.T) {
	for _, c := range categories() {
		clip, notes, rng := c.compose(1, 1)
		x, err := clip.sound(nil, notes, Seconds, rng)
		if err != nil {
			t.Fatal(err)
		}
		checkPitches(t, clip, x)
		checkPhrases(t, clip, x)
	}
}

func checkPitches(t *testing.T, clip Clip, x []float64) {
	t.Helper()
	for k, e := range clip.Events {
		g := clip.Gestures[k]
		from, to := e.Start+max(g.Attack, g.ScoopTime, g.Glide)+0.02, e.End-0.02
		if k+1 < len(clip.Gestures) {
			to -= clip.Gestures[k+1].Glide
		}
		if len(e.Actions) > 1 || to-from < 0.1 {
			continue
		}
		if cents := mean(x, from, to, pitch.MIDIToHz(e.Pitches[0])); math.IsNaN(cents) || math.Abs(cents) > 12 {
			t.Errorf("%s (%s) event %d at %.2f s: %.1f cents from the truth", clip.Name, clip.Source, k, e.Start,
				cents)
		}
	}
}

// mean is the mean deviation from hz, in cents, of windows of 70 ms, so that
// vibrato cancels out.
func mean(x []float64, from, to, hz float64) float64 {
	var sum, count float64
	for ; from+0.07 <= to; from += 0.02 {
		sum += 1200 * math.Log2(fundamental(cut(x, from, from+0.07), hz)/hz)
		count++
	}
	return sum / count
}

func checkPhrases(t *testing.T, clip Clip, x []float64) {
	t.Helper()
	for k, e := range clip.Events {
		first := slices.ContainsFunc(clip.Phrases, func(p tab.Phrase) bool { return p.Start == e.Start })
		if !first {
			continue
		}
		g := clip.Gestures[k]
		level := effect.RMS(cut(x, e.Start+g.Attack, min(e.End, e.Start+g.Attack+0.2)))
		if late := rise(x, e.Start, level); late < -0.006 || late > 0.045 {
			t.Errorf("%s (%s) event %d at %.3f s passes -20 dB %.0f ms after its start", clip.Name, clip.Source, k,
				e.Start, 1000*late)
		}
		if db := decibels(effect.RMS(cut(x, e.Start-0.2, e.Start-0.01))/level + 1e-9); db > -40 {
			t.Errorf("%s (%s) event %d: %.1f dB before its start", clip.Name, clip.Source, k, db)
		}
	}
}

func BenchmarkClips(b *testing.B) {
	needBank(b)
	for range b.N {
		if _, err := Clips("double", 1); err != nil {
			b.Fatal(err)
		}
	}
}
