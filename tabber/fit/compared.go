package fit

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// leastShared is the share of a heard event's time from which it is one of the notes.
const leastShared = 0.4

// compared are the notes with what is heard instead of those that were not found, and the
// surely heard events that are none of them, from the first that was found to the last.
func compared(notes []Laid, heard []tab.Event) ([]Laid, []tab.Event) {
	var added []tab.Event
	for i := 0; i <= len(notes); {
		end := i // of the notes that were not found
		for end < len(notes) && !notes[end].Found {
			end++
		}
		from, to := math.Inf(-1), math.Inf(1)
		if i > 0 {
			from = notes[i-1].End
		}
		if end < len(notes) {
			to = notes[end].Start
		}
		between := unclaimed(notes, heard, from, to)
		for k, j := range paired(notes[i:end], between) {
			switch {
			case j >= 0:
				notes[i+j].Instead = &between[k]
			case i > 0 && end < len(notes) && between[k].Confidence >= tab.SureFrom:
				added = append(added, between[k])
			}
		}
		i = end + 1
	}
	return notes, added
}

// unclaimed are the heard events whose middle lies between two times and which are not part of
// a note that was found.
func unclaimed(notes []Laid, heard []tab.Event, from, to float64) []tab.Event {
	var out []tab.Event
	for _, e := range heard {
		mid, shared := (e.Start+e.End)/2, 0.0
		for _, n := range notes {
			if n.Found {
				shared += max(0, min(n.End, e.End)-max(n.Start, e.Start))
			}
		}
		if mid > from && mid < to && shared < leastShared*(e.End-e.Start) && len(e.Actions) > 0 {
			out = append(out, e)
		}
	}
	return out
}

// Costs of taking one event for another note, by semitones, and of leaving either alone.
const (
	mostApart = 7.0
	alone     = 4.0
)

// paired tells for each heard event the note that it stands for, -1 for none: in order, by
// the least differences of pitch (edit distance: Wagner & Fischer 1974, "The
// string-to-string correction problem", JACM 21).
func paired(notes []Laid, heard []tab.Event) []int {
	cost := make([][]float64, len(notes)+1)
	for i := range cost {
		cost[i] = make([]float64, len(heard)+1)
		for j := range cost[i] {
			switch {
			case i == 0 || j == 0:
				cost[i][j] = alone * float64(i+j)
			default:
				cost[i][j] = min(cost[i-1][j]+alone, cost[i][j-1]+alone,
					cost[i-1][j-1]+apart(notes[i-1].Event, heard[j-1]))
			}
		}
	}
	out := make([]int, len(heard))
	for i, j := len(notes), len(heard); j > 0; {
		switch {
		case i > 0 && cost[i][j] == cost[i-1][j-1]+apart(notes[i-1].Event, heard[j-1]):
			i, j = i-1, j-1
			out[j] = i
		case i > 0 && cost[i][j] == cost[i-1][j]+alone:
			i--
		default:
			j--
			out[j] = -1
		}
	}
	return out
}

// apart is by how many semitones the lowest notes of two events differ, at most mostApart.
func apart(a, b tab.Event) float64 {
	if len(a.Pitches) == 0 || len(b.Pitches) == 0 {
		return mostApart
	}
	return min(mostApart, math.Abs(a.Pitches[0]-b.Pitches[0]))
}

const (
	unheard   = 0.05 // probability of a note that is not heard,
	otherwise = 0.5  // and the most of one that is heard to be another
	usual     = 0.25 // seconds that a note lasts which has no neighbours
	shortest  = 0.05 // and that one lasts at least, where it has to share its neighbour's time
	least     = 0.01 // seconds that any note lasts
)

// placed are the notes with times for those that were not found.
func placed(notes []Laid, f pitch.Frames) []Laid {
	for i := range notes {
		n := &notes[i]
		switch {
		case n.Found:
		case n.Instead != nil:
			n.Start, n.End = n.Instead.Start, n.Instead.End
			n.Confidence = min(otherwise, 1-n.Instead.Confidence)
			n.Alternatives = []tab.Alternative{{Actions: n.Instead.Actions, Confidence: n.Instead.Confidence}}
		default:
			n.Confidence = unheard
			n.Alternatives = []tab.Alternative{{Confidence: 1 - unheard}}
		}
	}
	end := f.Time(f.N)
	for i := 0; i < len(notes); {
		if notes[i].Found || notes[i].Instead != nil {
			i++
			continue
		}
		k := i
		for k < len(notes) && !notes[k].Found && notes[k].Instead == nil {
			k++
		}
		share(notes, i, k, f.Start, end)
		i = k
	}
	for i := 1; i < len(notes); i++ { // one mouth
		a, b := &notes[i-1], &notes[i]
		b.Start = max(b.Start, min(a.End, a.Start+shortest), a.Start+least)
		b.End = max(b.End, b.Start+least)
		a.End = min(a.End, b.Start)
	}
	return notes
}

// share the time between their neighbours among the notes [i, k), or what the one before can
// spare.
func share(notes []Laid, i, k int, from, to float64) {
	n := float64(k - i)
	switch {
	case i > 0 && k < len(notes):
		from, to = notes[i-1].End, notes[k].Start
	case i > 0:
		from = notes[i-1].End
		to = min(max(to, from), from+n*usual)
	case k < len(notes):
		to = notes[k].Start
		from = max(min(from, to), to-n*usual)
	default:
		to = min(to, from+n*usual)
	}
	if i > 0 && to-from < n*shortest {
		from = max((notes[i-1].Start+to)/2, to-n*shortest)
		notes[i-1].End = from
	}
	for j := i; j < k; j++ {
		notes[j].Start = from + (to-from)*float64(j-i)/n
		notes[j].End = from + (to-from)*float64(j-i+1)/n
	}
}
