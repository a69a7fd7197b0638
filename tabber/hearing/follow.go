package hearing

import (
	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/pitch/contour"
)

const (
	heardFrom  = 0.5 // probability from which a reed counts as sounding in a frame
	leastHeard = 3   // frames that it sounds at least
	heardReach = 120 // cents from the reed within which its pitch is followed
)

// Follow the reeds that sound in a clip of which an ear heard f, each as long as it does:
// for every frame fractional MIDI numbers as they sound, lowest first.
func Follow(c decode.Clip, f pitch.Frames) [][]float64 {
	a := contour.NewAnalyzer()
	out := make([][]float64, f.N)
	for r := range pitch.Rows {
		for i := 0; i < f.N; i++ {
			from := i
			for i < f.N && f.Sounding[i*pitch.Rows+r] >= heardFrom {
				i++
			}
			if i-from < leastHeard {
				continue
			}
			n := contour.Note{
				Hz:     f.Axis.Hz(float64(r)),
				Others: together(f, r, from, i),
				Low:    -heardReach,
				High:   heardReach,
			}
			line := a.Spectra(c.Samples, from, i).Follow(n)
			for k, cents := range line.Cents {
				midi := f.Axis.MIDI(r) + (f.Axis.Cents+cents)/100
				out[from+k] = append(out[from+k], midi)
			}
		}
	}
	return out
}

// together are the frequencies of what sounds with row r through most of some frames.
func together(f pitch.Frames, r, from, to int) []float64 {
	var out []float64
	for o := range pitch.Rows {
		n := 0
		for i := from; i < to; i++ {
			if f.Sounding[i*pitch.Rows+o] >= heardFrom {
				n++
			}
		}
		if o != r && 2*n > to-from {
			out = append(out, f.Axis.Hz(float64(o)))
		}
	}
	return out
}
