package study

import (
	"fmt"
	"math"
	"slices"

	"blowdraw/onset/beat"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Time says when phrases are played, and how their notes lie to the beat.
type Time struct {
	Lengths  []Measure `json:"lengths"`             // of phrases and the spaces between them
	Begins   []Measure `json:"begins"`              // shares of phrases, by where in the bar
	Ends     []Measure `json:"ends"`                //
	BeginsP  *float64  `json:"begins_p,omitempty"`  // chance of beginnings as uneven over the beats of the bar
	EndsP    *float64  `json:"ends_p,omitempty"`    //
	InForm   []Measure `json:"in_form"`             // phrases that begin in each bar of the form
	Full     []Measure `json:"full"`                // how full each bar of the form is
	Division []Measure `json:"division"`            // where in the beat notes begin
	Feel     string    `json:"feel"`                // straight, swing, triplet; empty if not clear
	Swing    float64   `json:"swing,omitempty"`     // ratio of swung eighths
	Beat     *Measure  `json:"beat,omitempty"`      // how late notes on the beat are
	BeatHalf *float64  `json:"beat_half,omitempty"` // half of the 95 % interval of its mean
	Cut      []Cut     `json:"cut"`                 // phrases that end on no note of the chord
}

// Cut is a phrase that rests on no note of the chord.
type Cut struct {
	Place
	Degree     string `json:"degree"` // over the tonic
	Over       string `json:"over"`   // the chord
	InForm     int    `json:"in_form,omitempty"`
	Turnaround bool   `json:"turnaround"` // it ends within the turnaround
	// Sure is the probability of the note that it ends on.
	Sure float64 `json:"sure"`
}

// turnaround is how many bars end the form that lead back to its beginning (Gotham et
// al., "Open Music Theory", chapter "Blues harmony": from memory).
const turnaround = 2

// onIt is how far from the one, in beats, a phrase begins or ends on it: less than half a
// triplet. ahead is how far before it still leads to it.
const (
	onIt  = 1. / 6
	ahead = 1.5
)

func timing(solos []solo, sum Summary) Time {
	out := Time{Lengths: lengths(solos), Cut: cut(solos)}
	out.Begins, out.BeginsP = inBar(solos, !sum.Short, 5, func(s solo, f span) (float64, Place) {
		first := s.sounds[f.from]
		return first.Start, first.place
	})
	out.Ends, out.EndsP = inBar(solos, !sum.Short, 6, func(s solo, f span) (float64, Place) {
		last := s.sounds[f.to-1]
		return last.End, last.place
	})
	out.InForm = beginsInForm(solos, sum)
	out.Full = byBar(solos, sum, "full", func(sound) float64 { return 1 }, false, 7)
	out.Division, out.Feel, out.Swing = division(solos)
	out.Beat, out.BeatHalf = late(solos, !sum.Short)
	return out
}

// lengths of phrases and spaces in beats, or where a tab has no tempo of all in seconds.
func lengths(solos []solo) []Measure {
	unit := Beats
	for _, s := range solos {
		if _, ok := s.BeatAt(0); !ok && len(s.sounds) > 0 {
			unit = Seconds
		}
	}
	long := func(s solo, from, to float64) float64 {
		if unit == Seconds {
			return to - from
		}
		a, _ := s.BeatAt(from)
		b, _ := s.BeatAt(to)
		return b - a
	}
	var phrases, spaces []float64
	var phrasesAt, spacesAt []weighed
	for _, s := range solos {
		for i, f := range s.phrases {
			place := s.phrasePlace(f)
			n := long(s, place.From, place.To)
			phrases, phrasesAt = append(phrases, n), append(phrasesAt, weighed{place, n})
			if i+1 == len(s.phrases) {
				continue
			}
			gap := Place{Solo: place.Solo, From: place.To, To: s.sounds[f.to].Start}
			gap.To = max(gap.To, gap.From)
			gap.At = s.PlaceText(gap.From)
			n = max(0, long(s, gap.From, gap.To))
			spaces, spacesAt = append(spaces, n), append(spacesAt, weighed{gap, n})
		}
	}
	out := []Measure{}
	if len(phrases) > 0 {
		out = append(out, spread("phrases", "", phrases, unit, float64(len(phrases)), longest(phrasesAt)))
	}
	if len(spaces) > 0 {
		out = append(out, spread("spaces", "", spaces, unit, float64(len(spaces)), longest(spacesAt)))
	}
	return out
}

// inBar are the shares of phrases for which a time lies just before the one of a bar, on
// it, or after it, and within each beat; p is that of the beats, all being equally likely.
func inBar(solos []solo, test bool, number uint64, at func(solo, span) (float64, Place)) ([]Measure,
	*float64) {
	names := []string{"before the one", "on the one", "after the one"}
	beats := 0
	for _, s := range solos {
		beats = max(beats, s.BeatsInBar())
	}
	for k := range beats {
		names = append(names, fmt.Sprintf("beat %d", k+1))
	}
	counts := make([]int, len(names))
	lists := make([][]weighed, len(names))
	n := 0
	for _, s := range solos {
		if len(s.bars) == 0 {
			continue
		}
		for _, f := range s.phrases {
			t, place := at(s, f)
			n++
			for _, i := range []int{around(s, t), 3 + int(inBarAt(s, t)+onIt)%s.BeatsInBar()} {
				counts[i]++
				lists[i] = append(lists[i], weighed{place, 1})
			}
		}
	}
	if n == 0 {
		return nil, nil
	}
	var out []Measure
	for i, name := range names {
		out = append(out, Measure{
			Name: name, Value: tidy(float64(counts[i]) / float64(n)), Unit: Share,
			N: float64(counts[i]), Places: longest(lists[i]),
		})
	}
	if !test {
		return out, nil
	}
	return out, given(FitTest(counts[3:], number))
}

// inBarAt is how many beats into its bar a time lies.
func inBarAt(s solo, t float64) float64 {
	x, _ := s.BeatAt(t)
	per := float64(s.BeatsInBar())
	return x - per*math.Floor(x/per)
}

// around the one a time lies before it (0), on it (1) or after it (2).
func around(s solo, t float64) int {
	per := float64(s.BeatsInBar())
	switch x := inBarAt(s, t); {
	case x <= onIt || x >= per-onIt:
		return 1
	case x >= per-ahead:
		return 0
	}
	return 2
}

// beginsInForm counts the phrases that begin in each bar of the form.
func beginsInForm(solos []solo, sum Summary) []Measure {
	if sum.FormBars == 0 {
		return nil
	}
	out := make([]Measure, sum.FormBars)
	lists := make([][]weighed, sum.FormBars)
	for _, s := range solos {
		for _, f := range s.phrases {
			if b, ok := s.barAt(s.sounds[f.from].from); ok && b.inForm > 0 {
				out[b.inForm-1].Value++
				lists[b.inForm-1] = append(lists[b.inForm-1], weighed{s.phrasePlace(f), 1})
			}
		}
	}
	for k := range out {
		out[k].Name, out[k].Over, out[k].Unit = "phrases begin", fmt.Sprintf("bar %d", k+1), Count
		out[k].N, out[k].Places = out[k].Value, longest(lists[k])
	}
	return out
}

// parts of a beat, as limits in beats: as in package onset/beat, which tells the feel.
var parts = []struct {
	name     string
	from, to float64
}{
	{"on the beat", -0.13, 0.13},
	{"first triplet", 0.27, 0.40},
	{"half", 0.44, 0.545},
	{"last triplet", 0.6, 0.74},
}

// division says where in the beat notes begin, and the feel.
func division(solos []solo) (out []Measure, feel string, swing float64) {
	var starts, beats []float64 // of all solos, one after the other
	counts, lists := make([]float64, len(parts)+1), make([][]weighed, len(parts)+1)
	n := 0.0
	for _, s := range solos {
		if _, ok := s.BeatAt(0); !ok || len(s.sounds) == 0 || len(s.bars) == 0 {
			continue
		}
		first, _ := s.BeatAt(s.sounds[0].Start)
		last, _ := s.BeatAt(s.sounds[len(s.sounds)-1].Start)
		base := float64(len(beats))
		for k := math.Floor(first) - 1; k <= math.Ceil(last)+1; k++ {
			beats = append(beats, base+k-math.Floor(first)+1)
		}
		for _, x := range s.sounds {
			at, _ := s.BeatAt(x.Start)
			starts = append(starts, base+at-math.Floor(first)+1)
			n++
			k := partOf(at - math.Floor(at))
			counts[k]++
			lists[k] = append(lists[k], weighed{x.place, 1})
		}
	}
	if n == 0 {
		return []Measure{}, "", 0
	}
	for k, c := range counts {
		name := "between"
		if k < len(parts) {
			name = parts[k].name
		}
		out = append(out, Measure{Name: name, Value: tidy(c / n), Unit: Share, N: c, Places: longest(lists[k])})
	}
	feel, swing = beat.FeelOf(starts, beats)
	return out, feel, tidy(swing)
}

func partOf(x float64) int {
	for k, p := range parts {
		if x >= p.from && x <= p.to || x-1 >= p.from && x-1 <= p.to {
			return k
		}
	}
	return len(parts)
}

// late is by how many milliseconds notes on the beat begin after it, with the mean of the
// phrases held against 0.
func late(solos []solo, test bool) (*Measure, *float64) {
	var all, means []float64
	var list []weighed
	for _, s := range solos {
		if len(s.bars) == 0 {
			continue
		}
		for _, f := range s.phrases {
			var some []float64
			for _, x := range s.sounds[f.from:f.to] {
				if ms, ok := lateBy(s, x); ok {
					some = append(some, ms)
					list = append(list, weighed{x.place, math.Abs(ms)})
				}
			}
			if len(some) > 0 {
				all = append(all, some...)
				means = append(means, mean(some))
			}
		}
	}
	if len(all) == 0 {
		return nil, nil
	}
	m := spread("after the beat", "", all, Millis, float64(len(all)), longest(list))
	middle, half, p, ok := MeanTest(means)
	if !test || !ok {
		return &m, nil
	}
	m.Value, m.P, m.Expected = tidy(middle), given(p), given(0)
	return &m, given(half)
}

// lateBy is how many milliseconds a sound begins after the nearest beat; ok is false for one
// that is not on a beat.
func lateBy(s solo, x sound) (ms float64, ok bool) {
	at, ok := s.BeatAt(x.Start)
	off := at - math.Round(at)
	if !ok || math.Abs(off) > parts[0].to {
		return 0, false
	}
	beat, ok := s.TimeAt(s.BeatPlace(int(math.Round(at))))
	return 1000 * (x.Start - beat), ok
}

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

// chordNotes are the notes of a chord of the blues over its root: of a seventh chord with
// its minor seventh, and of one that the tab writes small the minor third (Gotham et al.,
// "Open Music Theory", chapter "Blues harmony": from memory).
func chordNotes(chord string) []int {
	if chord != "" && (chord[0] == 'i' || chord[0] == 'v') {
		return []int{0, 3, 7, 10}
	}
	return []int{0, 4, 7, 10}
}

// cut lists the phrases that end on no note of the chord under their last note.
func cut(solos []solo) []Cut {
	out := []Cut{}
	for _, s := range solos {
		for _, f := range s.phrases {
			last := s.sounds[f.to-1]
			chord := s.ChordUnder(last.Event)
			if last.chord != "" && chordClass(chord) != last.chord {
				chord = last.chord
			}
			root, ok := tab.ChordRoot(chord)
			if !ok || len(last.readings[0].degrees) == 0 {
				continue
			}
			in := func(degree int) bool {
				return slices.Contains(chordNotes(chord), harp.PitchClass(degree-root))
			}
			if slices.ContainsFunc(last.readings[0].degrees, in) {
				continue
			}
			c := Cut{
				Place: s.phrasePlace(f), Degree: degreesText(last.readings[0].degrees), Over: chord,
				Sure: tidy(last.readings[0].p),
			}
			if b, ok := s.barAt(last.from); ok && s.length > 0 {
				c.InForm, c.Turnaround = b.inForm, b.inForm > s.length-turnaround
			}
			out = append(out, c)
		}
	}
	return out
}

func chordClass(chord string) string {
	if list := classes(chord); len(list) > 0 {
		return list[0]
	}
	return ""
}
