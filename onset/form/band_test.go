package form

import (
	"strings"
	"testing"

	"blowdraw/decode/programs/fluidsynth"
)

const rate = fluidsynth.Rate // Hz

// band is how an accompaniment plays.
type band struct {
	name                string
	bass, chords, drums string
	bpm, swing          float64
	key                 int
}

// accompany writes the form's bars from first on, m beats each, after lead beats
// of the bar before.
func (b band) accompany(degrees []int, first, bars, m int, lead float64) *fluidsynth.Score {
	s := &fluidsynth.Score{}
	s.Events = append(s.Events, fluidsynth.Program(0, 32), fluidsynth.Program(1, 25))
	for i := -1; i < bars; i++ {
		root := (b.key + degrees[(first-1+i+len(degrees))%len(degrees)]) % 12
		for beat := range m {
			at := float64(i*m+beat) + lead
			if at < 0 {
				continue
			}
			b.beat(s, root, beat, m, at)
		}
	}
	return s
}

// beat plays one beat of a bar.
func (b band) beat(s *fluidsynth.Score, root, beat, m int, at float64) {
	low, mid := 36+root-12*(root/8), 48+root
	switch {
	case b.bass == "walk":
		s.Note(0, low+[]int{0, 4, 7, 9}[beat], at, 0.9, 100)
	case b.bass == "two" && beat%2 == 0:
		s.Note(0, low+[]int{0, 0, 7, 7}[beat], at, 1.8, 100)
	case b.bass == "one" && beat == 0:
		s.Note(0, low, at, float64(m), 100)
	}
	chord := []int{mid + 4, mid + 7, mid + 10}
	for _, k := range chord {
		switch {
		case b.chords == "stabs" && (beat%2 == 1 || m == 3 && beat > 0):
			s.Note(1, k, at, 0.4, 80)
		case b.chords == "held" && beat == 0:
			s.Note(1, k, at, float64(m)-0.2, 80)
		}
	}
	if b.drums == "" {
		return
	}
	s.Note(fluidsynth.Drums, 42, at, 0.1, 70)
	if m == 4 {
		s.Note(fluidsynth.Drums, 42, at+b.swing, 0.1, 50)
	}
	if beat%2 == 0 && m == 4 || beat == 0 {
		s.Note(fluidsynth.Drums, 36, at, 0.1, 110)
	} else {
		s.Note(fluidsynth.Drums, 38, at, 0.1, 100)
	}
}

// render plays a score.
func render(t *testing.T, s *fluidsynth.Score, bpm float64) []float64 {
	t.Helper()
	x, err := s.Play(bpm, fluidsynth.Sound{Bank: fluidsynth.FluidBank, Gain: 0.2})
	fluidsynth.Check(t, err)
	return x
}

// semitones over the tonic of the chords of a form written as degrees.
func degrees(t *testing.T, chords string) []int {
	t.Helper()
	var out []int
	for _, c := range strings.Fields(chords) {
		r, ok := map[string]int{"I": 0, "IV": 5, "V": 7}[c]
		if !ok {
			t.Fatal(c)
		}
		out = append(out, r)
	}
	return out
}
