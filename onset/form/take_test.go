package form

import (
	"errors"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"

	"blowdraw/onset"
	"blowdraw/onset/beat"
)

// Sound banks of Debian packages: fluid-soundfont-gm, timgm6mb-soundfont and
// musescore-general-soundfont.
const (
	fluidBank = soundFont
	smallBank = "/usr/share/sounds/sf2/TimGM6mb.sf2"
	museBank  = "/usr/share/sounds/sf3/MuseScore_General.sf3"
)

// take is a rendered section of a gig as a transcription hands it on, and its truth.
type take struct {
	*gig
	sound    Sound
	strength beat.Strength
	heard    []Note    // of the player, as a transcriber may find them
	seconds  float64   // length
	beats    []float64 // true ones, s
	first    int       // index in beats of a bar's first
	before   float64   // s of the gig before the section
	harpDB   float64
}

// found is a transcriber's view of the player's notes: some left out, starts
// misplaced a little.
func found(rng *rand.Rand, notes []Note) []Note {
	var out []Note
	for _, n := range notes {
		if rng.Float64() < 0.06 {
			continue
		}
		n.Start += 0.008 * rng.NormFloat64()
		out = append(out, n)
	}
	slices.SortFunc(out, func(a, b Note) int { return int(math.Copysign(1, a.Start-b.Start)) })
	return out
}

// takes renders gigs with one sound bank, in one run of fluidsynth for the bands and
// one for the players.
func takes(t *testing.T, seed uint64, n int, bank string, reverb bool) []take {
	t.Helper()
	return takesOf(t, gigGrooves, seed, n, bank, reverb)
}

// takesOf are takes of these grooves in turn.
func takesOf(t *testing.T, grooves []string, seed uint64, n int, bank string, reverb bool) []take {
	t.Helper()
	_, missing := exec.LookPath("fluidsynth")
	if _, err := os.Stat(bank); errors.Is(err, fs.ErrNotExist) || missing != nil {
		const say = "install the Debian packages fluidsynth, fluid-soundfont-gm, timgm6mb-soundfont and musescore-general-soundfont"
		if os.Getenv("CI") != "" {
			t.Fatal(say)
		}
		t.Skip(say)
	}
	rng := rand.New(rand.NewPCG(seed, 21))
	var out []take
	var bands, harps []event
	var starts []float64
	at := 0.5
	for i := range n {
		k := take{gig: nil, before: 4 * rng.Float64(), seconds: 12 + 13*rng.Float64(), harpDB: -3 + 11*rng.Float64()}
		groove := grooves[i%len(grooves)]
		k.gig = newGig(rng, groove, 3+int((k.before+k.seconds)*180/60/4))
		wander, length, turn := 0.12*rng.Float64(), 20+40*rng.Float64(), 6*rng.Float64()
		when := func(b float64) float64 {
			return 60 / k.bpm * (b + wander*(math.Sin(2*math.Pi*b/length+turn)-math.Sin(turn)))
		}
		end := k.before + k.seconds
		for j, s := range []*score{k.band, k.harp} {
			to := []*[]event{&bands, &harps}[j]
			for _, e := range s.events {
				if w := when(float64(e.tick) / perBeat); w < end+0.5 || e.data[0]&0xf0 == 0x80 {
					*to = append(*to, event{int(1000*(at+min(w, end+0.6)) + 0.5), e.data})
				}
			}
		}
		for b := 0; ; b++ {
			w := when(float64(b)) - k.before
			if w > k.seconds {
				break
			}
			if w < 0 {
				continue
			}
			if len(k.beats) == 0 {
				k.first = (4 - b%4) % 4
			}
			k.beats = append(k.beats, w)
		}
		var notes []Note
		for _, m := range k.notes {
			m.Start, m.End = when(m.Start)-k.before, when(m.End)-k.before
			if m.Start > -0.2 && m.Start < k.seconds-0.1 {
				m.Start = max(m.Start, 0)
				notes = append(notes, m)
			}
		}
		k.heard = found(rng, notes)
		starts = append(starts, at)
		out = append(out, k)
		at += end + 2
	}
	band, harp := synth(t, bands, bank, reverb), synth(t, harps, bank, true)
	for i := range out {
		k := &out[i]
		cut := func(x []float64) []float64 {
			a := int((starts[i] + k.before) * rate)
			y := make([]float64, int(k.seconds*rate))
			copy(y, x[min(a, len(x)):])
			return y
		}
		x, h := cut(band), cut(harp)
		gain := math.Pow(10, k.harpDB/20) * rms(x) / max(rms(h), 1e-6)
		for j := range x {
			x[j] += gain * h[j]
		}
		if rng.IntN(4) == 0 {
			worn(rng, x)
		}
		k.sound.Add(x, rate, 0, 0)
		k.strength = beat.Strength{Hop: 256. / rate, Values: onset.Strength(x, rate, 256)}
		k.band, k.harp = nil, nil
	}
	return out
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// worn narrows the band as old records do and adds noise.
func worn(rng *rand.Rand, x []float64) {
	level := rms(x)
	high, low := 60+140*rng.Float64(), 2800+2500*rng.Float64()
	noise := level * math.Pow(10, (-34+10*rng.Float64())/20)
	for range 2 {
		a, b := 1-math.Exp(-2*math.Pi*high/rate), 1-math.Exp(-2*math.Pi*low/rate)
		slow, fast := 0.0, 0.0
		for i, v := range x {
			slow += a * (v - slow)
			fast += b * (v - slow - fast)
			x[i] = fast
		}
	}
	for i := range x {
		x[i] += noise * rng.NormFloat64()
	}
}

// synth plays events whose ticks are milliseconds.
func synth(t *testing.T, events []event, bank string, reverb bool) []float64 {
	t.Helper()
	dir := t.TempDir()
	mid, raw := filepath.Join(dir, "gigs.mid"), filepath.Join(dir, "gigs.raw")
	s := &score{events: events}
	// 480 ticks a quarter at 125 quarters a minute are one a millisecond
	if err := os.WriteFile(mid, s.file(125), 0o600); err != nil {
		t.Fatal(err)
	}
	r := "0"
	if reverb {
		r = "1"
	}
	out, err := exec.Command("fluidsynth", "-ni", "-q", "-R", r, "-C", "0", "-g", "0.4", "-r", "22050", "-O", "s16", "-T", "raw", "-F", raw, bank, mid).CombinedOutput()
	if err != nil {
		t.Fatalf("fluidsynth: %v\n%s", err, out)
	}
	return mixed(t, raw)
}

// beatsFound is what a transcription hands on.
func (k take) beatsFound() []float64 {
	var starts []float64
	for _, n := range k.heard {
		starts = append(starts, n.Start)
	}
	return beat.Find(k.strength, starts, 0, k.seconds, 0).Beats
}

// right tells whether tempo (to 4 %) and first beats are: the median bar line lies
// within a quarter of a beat of a true first beat.
func (k take) right(b Bars) bool {
	if len(b.Firsts) == 0 || math.Abs(60/b.beat()/k.bpm-1) > 0.04 {
		return false
	}
	var off []float64
	for _, f := range b.Firsts {
		i, x := k.place(b.Beats[f])
		off = append(off, math.Abs(math.Remainder(float64(i-k.first)+x, 4)))
	}
	slices.Sort(off)
	return off[len(off)/2] < 0.25
}

// place is the true beat nearest to a time, and how far from it that is, in beats.
func (k take) place(t float64) (nearest int, off float64) {
	for i := range k.beats {
		if math.Abs(k.beats[i]-t) < math.Abs(k.beats[nearest]-t) {
			nearest = i
		}
	}
	j := min(nearest, len(k.beats)-2)
	return nearest, (t - k.beats[nearest]) / (k.beats[j+1] - k.beats[j])
}

// each calls do for all takes, on all processors.
func each(takes []take, do func(i int, k take)) {
	var wg sync.WaitGroup
	turns := make(chan bool, runtime.NumCPU())
	for i, k := range takes {
		wg.Go(func() {
			turns <- true
			defer func() { <-turns }()
			do(i, k)
		})
	}
	wg.Wait()
}
