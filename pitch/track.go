package pitch

import "math"

// Track is the fundamental-frequency track of a section: the ear for melodies
// of single notes that needs no training. Frame i is centred on sample i*Hop.
type Track struct {
	Start      float64       // seconds from the start of the recording
	Candidates [][]Candidate // probabilistic YIN, none where it is too quiet
	Loud       []float64     // 0 (silence) to 1
	Level      []float32     // dB below full scale
}

// NewTrack tracks the fundamentals within the range of the axis in samples
// (mono at Rate) that begin start seconds into the recording.
func NewTrack(samples []float64, start float64, axis Axis) Track {
	n := len(samples)/Hop + 1
	t := Track{
		Start: start, Candidates: make([][]Candidate, n), Loud: make([]float64, n), Level: make([]float32, n),
	}
	y := NewYin(axis.Hz(-0.5), axis.Hz(Rows-0.5))
	levels(samples, t.Level)
	floor := quietest(t.Level)
	for i := range n {
		t.Loud[i] = gate(float64(t.Level[i]), floor)
		if t.Loud[i] > 0 {
			t.Candidates[i] = append([]Candidate(nil), y.At(samples, i*Hop)...)
		}
	}
	return t
}

// Frames gives each candidate to the nearest row of the axis. It tells nothing
// of breath and number of reeds, and leaves Attack and Event empty for an onset
// detector to fill.
func (t Track) Frames(axis Axis) Frames {
	f := NewFrames(axis, t.Start, len(t.Candidates))
	copy(f.Level, t.Level)
	for k := range f.Cents {
		f.Cents[k] = float32(math.NaN())
	}
	for i, candidates := range t.Candidates {
		for _, c := range candidates {
			row, cents := axis.nearest(c.Hz)
			if row < 0 || row >= Rows {
				continue
			}
			k := i*Rows + row
			f.Sounding[k] += float32(c.Probability * t.Loud[i])
			f.Cents[k] = float32(cents)
		}
	}
	return f
}

// nearest row to a frequency and the distance from it in cents.
func (a Axis) nearest(hz float64) (row int, cents float64) {
	x := 12 * math.Log2(hz/a.Hz(0))
	row = int(math.Round(x))
	return row, 100 * (x - float64(row))
}

// levels fills dst with the level of 1024 samples around each frame, dB below
// full scale.
func levels(x []float64, dst []float32) {
	const half = 512
	for i := range dst {
		sum := 0.0
		for j := max(0, i*Hop-half); j < min(len(x), i*Hop+half); j++ {
			sum += x[j] * x[j]
		}
		dst[i] = float32(10 * math.Log10(sum/(2*half)+1e-12))
	}
}

// quietest is the level below which a frame counts as silence: 40 dB under the
// section's loud frames (the 95th percentile).
func quietest(levels []float32) float64 {
	return Percentile(levels, 0.95) - 40
}

// gate fades from 0 at the floor to 1 6 dB above it.
func gate(level, floor float64) float64 {
	return min(1, max(0, (level-floor)/6))
}
