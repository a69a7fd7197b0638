// Package pitch tells what sounds: spectra, fundamental frequencies, how far a
// recording is off concert pitch. It knows frequencies, not holes: the
// instrument hands it the pitches that can occur.
//
// An ear (Track here, the learned one in pitch/ear) turns a section into
// Frames: for every hop, how likely each semitone row sounds or is attacked.
// What those rows mean on a harp is decided by others.
package pitch

import (
	"math"
	"slices"
)

// Rows of an ear's frequency axis: semitones from one below hole 1 blow to 38
// above it, which holds every note, bend and overbend of a ten-hole harp.
const (
	Rows     = 40
	RowBelow = 1 // rows below hole 1 blow
)

// Analysis raster shared by all ears.
const (
	Rate = 22050 // Hz
	Hop  = 256   // samples: 11.6 ms
)

// HopSeconds is the time between two frames in seconds.
const HopSeconds = float64(Hop) / Rate

// Axis places the rows: Base is the MIDI number of hole 1 blow, Cents how far
// the recording is off A4 = 440 Hz, Layout the 0/1 features of each row.
type Axis struct {
	Base   int
	Cents  float64
	Layout [LayoutFeatures][Rows]float32
}

// Hz is the frequency in Hz of a row (fractional rows allowed).
func (a Axis) Hz(row float64) float64 {
	return MIDIToHz(float64(a.Base) + row - RowBelow + a.Cents/100)
}

// MIDI is the MIDI number of a row in a recording on A4 = 440 Hz: Cents is left out.
func (a Axis) MIDI(row int) float64 { return float64(a.Base + row - RowBelow) }

// Frames is what an ear heard: N frames, frame i centred on Start + i*HopSeconds
// (seconds from the start of the recording). Row values are stored frame by
// frame: Sounding[i*Rows+r].
type Frames struct {
	Axis     Axis
	Start    float64
	N        int
	Sounding []float32                  // probability that the row's reed sounds
	Attack   []float32                  // probability that a note with this reed begins here
	Cents    []float32                  // measured pitch against the row's frequency, NaN where unknown
	Breath   [][breaths]float32         // probability of NoBreath, Blowing, Drawing; nil if unknown
	Count    [][MostCounted + 1]float32 // probability of 0, 1, 2, 3 and more reeds; nil if unknown
	Event    []float32                  // probability that any note begins here
	Level    []float32                  // dB below full scale of the frame
	Whole    [][]float32                // WholeWidth values that sum up what sounds; nil if unknown
	Loud     []float32                  // dB of each row's own partials, -120 where it hardly sounds; nil if unknown
}

// WholeWidth is how many values sum up a frame.
const WholeWidth = 128

// NewFrames makes room for n frames.
func NewFrames(axis Axis, start float64, n int) Frames {
	return Frames{
		Axis: axis, Start: start, N: n,
		Sounding: make([]float32, n*Rows),
		Attack:   make([]float32, n*Rows),
		Cents:    make([]float32, n*Rows),
		Event:    make([]float32, n),
		Level:    make([]float32, n),
	}
}

// Time of frame i in seconds from the start of the recording.
func (f Frames) Time(i int) float64 { return f.Start + float64(i)*HopSeconds }

// At is the frame nearest to a time in seconds from the start of the recording; it may
// lie before the first or after the last.
func (f Frames) At(seconds float64) int { return int(math.Round((seconds - f.Start) / HopSeconds)) }

// Nearest is the one of the N frames that is nearest to a time in seconds from the start
// of the recording.
func (f Frames) Nearest(seconds float64) int { return min(max(f.At(seconds), 0), f.N-1) }

// Part is frames [from, to), which share the memory of f.
func (f Frames) Part(from, to int) Frames {
	p := f
	p.Start, p.N = f.Time(from), to-from
	p.Sounding, p.Attack = f.Sounding[from*Rows:to*Rows], f.Attack[from*Rows:to*Rows]
	p.Cents = f.Cents[from*Rows : to*Rows]
	p.Event, p.Level = f.Event[from:to], f.Level[from:to]
	if f.Breath != nil {
		p.Breath, p.Count = f.Breath[from:to], f.Count[from:to]
	}
	if f.Whole != nil {
		p.Whole = f.Whole[from:to]
	}
	if f.Loud != nil {
		p.Loud = f.Loud[from*Rows : to*Rows]
	}
	return p
}

// Then is f followed by g, in memory of its own: both by the same ear, on the same
// axis.
func (f Frames) Then(g Frames) Frames {
	return Frames{
		Axis: f.Axis, Start: f.Start, N: f.N + g.N,
		Sounding: slices.Concat(f.Sounding, g.Sounding),
		Attack:   slices.Concat(f.Attack, g.Attack),
		Cents:    slices.Concat(f.Cents, g.Cents),
		Breath:   slices.Concat(f.Breath, g.Breath),
		Count:    slices.Concat(f.Count, g.Count),
		Event:    slices.Concat(f.Event, g.Event),
		Level:    slices.Concat(f.Level, g.Level),
		Whole:    slices.Concat(f.Whole, g.Whole),
		Loud:     slices.Concat(f.Loud, g.Loud),
	}
}

// Shift moves the axis to another tuning offset without hearing again: the
// measured cents count from the new rows.
func (f *Frames) Shift(cents float64) {
	for i := range f.Cents {
		f.Cents[i] += float32(f.Axis.Cents - cents)
	}
	f.Axis.Cents = cents
}

// LoudOf is the level in dB of all partials of the rows at frame i; Loud must
// have been measured.
func (f Frames) LoudOf(rows []int, i int) float64 {
	sum := 0.0
	for _, r := range rows {
		sum += math.Pow(10, float64(f.Loud[i*Rows+r])/10)
	}
	return 10 * math.Log10(sum+1e-12)
}
