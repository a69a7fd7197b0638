package clips

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"

	"blowdraw/decode/resample"
	"blowdraw/pitch"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
)

// Where Debian's packages timgm6mb-soundfont and fluid-soundfont-gm keep their
// sound banks. Package pitch/ear/train hears the reeds of the second, not those
// of the first.
const (
	BankPath      = "/usr/share/sounds/sf2/TimGM6mb.sf2"
	FluidBankPath = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
)

// ErrMissing is wrapped by errors of what makes sound when FluidSynth or
// the sound bank is not installed.
var ErrMissing = errors.New(
	"install the Debian packages fluidsynth, timgm6mb-soundfont and fluid-soundfont-gm, and for sets of " +
		"clips with other banks musescore-general-soundfont, csound-soundfont and opl3-soundfont",
)

// bank is the sampled harmonica.
type bank struct {
	program string
	file    string
	keys    map[int]keySound // by MIDI number
}

// keySound says how a key of the bank sounds.
type keySound struct {
	cents  float64 // sharp of equal temperament
	gain   float64 // RMS against a full tone's (0.1)
	attack float64 // s until 3 dB under the settled level
}

// nearestKey is the key whose sample needs the least shifting.
func (b *bank) nearestKey(midi float64) int {
	key := min(max(int(math.Round(midi)), lowestKey), highestKey)
	for b.keys[key].gain == 0 { // beyond the bank's compass
		key--
	}
	return key
}

// Keys that are measured; a bank may end above needKey.
const lowestKey, needKey, highestKey = 36, 96, 108

// FluidSynth runs at a high rate, so that little of what it shifts up folds
// over.
const bankRate = 88200

func openBank(path string) (*bank, error) {
	program, err := exec.LookPath("fluidsynth")
	if err != nil {
		return nil, fmt.Errorf("looking for fluidsynth: %w (%w)", err, ErrMissing)
	}
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("looking for the sound bank: %w (%w)", err, ErrMissing)
	}
	b := &bank{program: program, file: path}
	return b, b.measure()
}

// measure sounds every key once and notes its pitch, loudness and attack: some
// keys of the bank are a third of a semitone out of tune.
func (b *bank) measure() error {
	const hold = 0.6
	messages := setUp()
	start := func(key int) float64 { return space + (hold+space)*float64(key-lowestKey) }
	for key := lowestKey; key <= highestKey; key++ {
		messages = append(messages, strike(key, start(key), hold)...)
	}
	x, err := b.synthesize(smf(messages))
	if err != nil {
		return fmt.Errorf("measuring the sound bank: %w", err)
	}
	if need := int((start(highestKey) + hold) * Rate); len(x) < need {
		return fmt.Errorf("measuring the sound bank: fluidsynth gave %d samples, want %d", len(x), need)
	}
	b.keys = map[int]keySound{}
	for key := lowestKey; key <= highestKey; key++ {
		first := int(start(key) * Rate)
		settled := x[first+Rate/4 : first+Rate*11/20]
		level := effect.RMS(settled)
		if level < 1e-4 && key > needKey {
			break
		}
		if level < 1e-4 {
			return fmt.Errorf("measuring the sound bank: key %d is silent", key)
		}
		hz := fundamental(settled, pitch.MIDIToHz(float64(key)))
		attack := 0.0
		for step := Rate / 200; effect.RMS(x[first+int(attack*Rate):][:step]) < 0.7*level && attack < 0.25; {
			attack += 0.005
		}
		b.keys[key] = keySound{cents: 100 * (pitch.HzToMIDI(hz) - float64(key)), gain: level / 0.1, attack: attack}
	}
	return nil
}

// take is a note as it is asked of the bank: a key that begins at begin (on
// the note's clock) and is held for length seconds.
type take struct {
	render.Note
	key           int
	sound         keySound
	begin, length float64
	faded         bool
}

const (
	slurred = 0.035 // s, a note with a shorter attack has none of the sample's own
	quick   = 0.03  // s, a sample that is at full level by then
	preRoll = 0.13  // s that a sample has run when a slurred note is faded in
)

// takes decides how each note is taken from the bank. A sample that takes its
// time speaks by itself; a quick one is faded in with the note's attack; a
// slurred note is faded in when its sample's own attack is over.
func (b *bank) takes(notes []render.Note) []take {
	var out []take
	for _, n := range notes {
		k := take{Note: n, key: b.nearestKey(n.MIDI), begin: n.Start}
		k.sound = b.keys[k.key]
		k.faded = n.Attack < slurred || k.sound.attack < quick
		if n.Attack < slurred {
			k.begin -= preRoll
		}
		k.length = n.Stop() - k.begin
		out = append(out, k)
	}
	return out
}

// gain is what the sample is multiplied by at t seconds on the note's clock.
func (k take) gain(t float64) float64 {
	if !k.faded {
		t = max(t, k.Start+k.Attack)
	}
	return k.Gain(t) / k.sound.gain
}

// play sounds notes through the bank: mono samples at Rate.
func (b *bank) play(notes []render.Note) ([]float64, error) {
	takes := b.takes(notes)
	messages, at := score(takes)
	x, err := b.synthesize(smf(messages))
	if err != nil {
		return nil, err
	}
	var out []float64
	for i, k := range takes {
		from, to := int(math.Round(k.begin*Rate)), int(k.Stop()*Rate)
		for len(out) < to {
			out = append(out, 0)
		}
		first := int(math.Round(at[i] * Rate))
		var hands lowpass
		for j := max(from, 0); j < to && first+j-from < len(x); j++ {
			t := float64(j) / Rate
			out[j] += hands.next(x[first+j-from]*k.gain(t), k.Cutoff(t))
		}
		if k.Puff != 0 {
			addPuff(out, k.Note, uint64(i))
		}
	}
	return out, nil
}

// addPuff adds the burst of air at the start of a note: noise about 2.5 kHz.
func addPuff(out []float64, n render.Note, serial uint64) {
	rng := rand.New(rand.NewPCG(serial, 1))
	var y1, y2 float64
	for j := max(int(n.Start*Rate), 0); j < len(out) && n.Air(float64(j)/Rate) > 0; j++ {
		y := rng.NormFloat64() + 0.99*y1 - 0.43*y2 // poles at radius 0.65, 2.5 kHz
		out[j] += 0.1 * n.Air(float64(j)/Rate) * 0.6 * (y - y2)
		y1, y2 = y, y1
	}
}

// lowpass is a moving lowpass of second order, Butterworth's: a state-variable filter
// with trapezoidal integrators (Zavalishin, "The Art of VA Filter Design", 2012).
type lowpass struct{ a, b float64 }

// next filters a sample at a corner frequency in Hz; from 0.45 of Rate on it passes
// all.
func (l *lowpass) next(x, hz float64) float64 {
	if hz > 0.45*Rate {
		return x
	}
	g := math.Tan(math.Pi * hz / Rate)
	band := (g*(x-l.b) + l.a) / (1 + g*(g+math.Sqrt2))
	low := l.b + g*band
	l.a, l.b = 2*band-l.a, 2*low-l.b
	return low
}

// synthesize runs FluidSynth on a MIDI file, without its own effects, and
// returns the mean of the two channels.
func (b *bank) synthesize(midi []byte) ([]float64, error) {
	dir, err := os.MkdirTemp("", "clips")
	if err != nil {
		return nil, fmt.Errorf("making a temporary folder: %w", err)
	}
	defer os.RemoveAll(dir)
	score, sound := filepath.Join(dir, "score.mid"), filepath.Join(dir, "sound.raw")
	if err := os.WriteFile(score, midi, 0o600); err != nil {
		return nil, fmt.Errorf("writing the score: %w", err)
	}
	cmd := exec.Command(b.program, "-n", "-i", "-q", "-R", "0", "-C", "0", "-g", "1",
		"-r", fmt.Sprint(bankRate), "-T", "raw", "-O", "float", "-E", "little", "-F", sound, b.file, score)
	if out, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("running fluidsynth: %w: %s", err, out)
	}
	raw, err := os.ReadFile(sound)
	if err != nil {
		return nil, fmt.Errorf("reading what fluidsynth rendered: %w", err)
	}
	x := make([]float64, len(raw)/8)
	var dc float64
	for i := range x {
		l := math.Float32frombits(binary.LittleEndian.Uint32(raw[8*i:]))
		r := math.Float32frombits(binary.LittleEndian.Uint32(raw[8*i+4:]))
		x[i] = (float64(l) + float64(r)) / 2
		dc += (x[i] - dc) * 2 * math.Pi * 20 / bankRate // some samples have an offset
		x[i] -= dc
	}
	x, err = resample.Convert(x, bankRate, Rate)
	if err != nil {
		return nil, fmt.Errorf("resampling what fluidsynth rendered: %w", err)
	}
	return x, nil
}

// fundamental measures the frequency of x in Hz, within a semitone of guess:
// the peak of the normalised autocorrelation near a lag of two periods, then
// of more, each search starting from the last. NaN if x is too short.
func fundamental(x []float64, guess float64) float64 {
	hz, within := math.NaN(), 0.06
	for _, periods := range []float64{2, 6, 24} {
		mid := periods * Rate / guess
		if mid > float64(len(x))/2 {
			break
		}
		best, top := 0, -1.0
		for lag := int(mid * (1 - within)); lag <= int(mid*(1+within))+1; lag++ {
			if c := correlation(x, lag); c > top {
				best, top = lag, c
			}
		}
		a, b, c := correlation(x, best-1), top, correlation(x, best+1)
		hz = periods * Rate / (float64(best) + (a-c)/(2*(a-2*b+c)))
		guess, within = hz, within/3
	}
	return hz
}

// correlation is the normalised autocorrelation of x at a lag in samples.
func correlation(x []float64, lag int) float64 {
	var ab, aa, bb float64
	for i := 0; i+lag < len(x); i++ {
		a, b := x[i], x[i+lag]
		ab += a * b
		aa += a * a
		bb += b * b
	}
	return ab / math.Sqrt(aa*bb+1e-30)
}
