package tabber

import (
	"testing"

	"blowdraw/pitch"
)

// heard makes frames in which row 5 sounds with the given probability and level.
func heard(sounding, level []float32) pitch.Frames {
	f := pitch.NewFrames(pitch.Axis{Base: 60}, 0, len(sounding))
	f.Loud = make([]float32, len(sounding)*pitch.Rows)
	for i := range sounding {
		f.Sounding[i*pitch.Rows+5], f.Loud[i*pitch.Rows+5] = sounding[i], level[i]
	}
	return f
}

func fill32(parts ...[2]float32) []float32 { // {count, value}
	var out []float32
	for _, p := range parts {
		for range int(p[0]) {
			out = append(out, p[1])
		}
	}
	return out
}

func TestTrim(t *testing.T) {
	tr := &Transcriber{states: []state{{}, {rows: []int{5}}}, method: learnedMethod}
	for _, c := range []struct {
		name            string
		sounding, level []float32
		to, want        int
	}{
		{"a tail that falls is cut", fill32([2]float32{40, 1}, [2]float32{20, 0.8}), fill32([2]float32{40, -10}, [2]float32{20, -20}), 60, 40},
		{"a note as loud as before is held", fill32([2]float32{40, 1}, [2]float32{20, 0.3}), fill32([2]float32{60, -10}), 40, 60},
		{"not where the ear is sure it ended", fill32([2]float32{40, 1}, [2]float32{20, 0.02}), fill32([2]float32{60, -10}), 40, 40},
		{"not where the level has fallen", fill32([2]float32{40, 1}, [2]float32{20, 0.3}), fill32([2]float32{40, -10}, [2]float32{20, -16}), 40, 40},
	} {
		f := heard(c.sounding, c.level)
		got := tr.trim(f, []span{{state: 1, to: c.to}})[0].to
		if got != c.want {
			t.Errorf("%s: ends at frame %d, want %d", c.name, got, c.want)
		}
	}
}
