package pitch

import "testing"

// Row 1 of a C harp is C4, MIDI number 60, however the recording is tuned.
func TestMIDIOfRows(t *testing.T) {
	for _, cents := range []float64{0, -20} {
		a := Axis{Base: 60, Cents: cents}
		if a.MIDI(1) != 60 || a.MIDI(0) != 59 || a.MIDI(Rows-1) != 98 {
			t.Errorf("rows 1, 0 and %d: %g, %g, %g", Rows-1, a.MIDI(1), a.MIDI(0), a.MIDI(Rows-1))
		}
		if hz := a.Hz(1); hz != MIDIToHz(a.MIDI(1)+cents/100) {
			t.Errorf("row 1 at %g cents: %g Hz", cents, hz)
		}
	}
}

// A frame's own time is nearest to it.
func TestFrameAtTime(t *testing.T) {
	f := NewFrames(Axis{}, 12.5, 100)
	for i := -3; i < 103; i++ {
		for _, off := range []float64{-0.4, 0, 0.4} {
			at := f.Time(i) + off*HopSeconds
			if f.At(at) != i {
				t.Errorf("%g s: frame %d, want %d", at, f.At(at), i)
			}
			if want := min(max(i, 0), 99); f.Nearest(at) != want {
				t.Errorf("%g s: nearest frame %d, want %d", at, f.Nearest(at), want)
			}
		}
	}
}
