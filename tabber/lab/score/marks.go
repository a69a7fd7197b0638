package score

import (
	"math"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/tab"
)

// MarkScore is how well one mark was found: of Ref true ones and Est written ones
// Found stand on the same event. For vibrato, Rate lists the absolute errors in Hz of
// those found, Extent the errors of their cents as shares of the true ones.
type MarkScore struct {
	Found, Ref, Est int
	Rate, Extent    []float64
}

// F is the harmonic mean of Found/Ref and Found/Est; NaN if there are none to find.
func (s MarkScore) F() float64 {
	if s.Ref == 0 {
		return math.NaN()
	}
	return compare.F1(s.Found, s.Ref, s.Est)
}

// Add counts in another score of the same mark.
func (s *MarkScore) Add(o MarkScore) {
	s.Found, s.Ref, s.Est = s.Found+o.Found, s.Ref+o.Ref, s.Est+o.Est
	s.Rate, s.Extent = append(s.Rate, o.Rate...), append(s.Extent, o.Extent...)
}

// Marks scores one mark. Events stand for each other where their onsets differ by
// onset seconds at most, whatever holes they have.
func Marks(ref, est []tab.Event, name string, onset float64) MarkScore {
	var s MarkScore
	matched := compare.Match(len(ref), len(est),
		func(i, j int) bool { return compare.Within(ref[i].Start, est[j].Start, onset) })
	for _, e := range est {
		if _, ok := e.Mark(name); ok {
			s.Est++
		}
	}
	for i, e := range ref {
		m, ok := e.Mark(name)
		if !ok {
			continue
		}
		s.Ref++
		if matched[i] < 0 {
			continue
		}
		if o, ok := est[matched[i]].Mark(name); ok {
			s.Found++
			if m.Hz > 0 {
				s.Rate = append(s.Rate, math.Abs(o.Hz-m.Hz))
			}
			if m.Hz > 0 && m.Cents > 0 {
				s.Extent = append(s.Extent, math.Abs(o.Cents/m.Cents-1))
			}
		}
	}
	return s
}
