package pitch

// Indices of Frames.Breath: nobody breathes (or it is unknown), a blow, a draw.
const (
	NoBreath = iota
	Blowing
	Drawing
	breaths
)

// MostCounted is the last index of Frames.Count: so many reeds, or more.
const MostCounted = 3

// Features of Axis.Layout: what a row can be on the harp at hand.
const (
	BlowNote = iota // a natural blow note
	DrawNote        // a natural draw note
	DrawBend        // a draw bend
	BlowBend        // a blow bend
	Overbend        // an overblow or overdraw
	LayoutFeatures
)

// Row is that of a note number at concert pitch; it may lie outside [0, Rows).
func (a Axis) Row(midi int) int { return midi - a.Base + RowBelow }

// UsualLoud is the median level in dB of the rows' partials over frames [from, to); Loud
// must have been measured.
func (f Frames) UsualLoud(rows []int, from, to int) float64 { return f.LoudIn(rows, from, to, 0.5) }

// LoudIn is the level in dB of the rows' partials that a share (0 to 1) of frames [from, to)
// stays under; Loud must have been measured.
func (f Frames) LoudIn(rows []int, from, to int, share float64) float64 {
	level := make([]float32, to-from)
	for k := range level {
		level[k] = float32(f.LoudOf(rows, from+k))
	}
	return Percentile(level, share)
}
