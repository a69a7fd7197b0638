// Package compare tells how two tabs of the same passage differ, and how well notes
// agree.
//
// [Notes] compares notes as the MIREX note-tracking task does and as mir_eval
// implements it (Raffel et al., "mir_eval: a transparent implementation of
// common MIR metrics", ISMIR 2014): a note of the transcription is right when
// its onset, its pitch and, if asked for, its offset are close to those of a
// note of the truth, each note being used once. [Difference] pairs the events of
// two tabs.
package compare

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Note is one sounding pitch: times in seconds, pitch as a fractional MIDI
// number.
type Note struct{ Onset, Offset, Pitch float64 }

// Criteria say how close two notes must be. A difference of exactly the
// tolerance still counts; differences of times are rounded to 0.1 ms before.
// An infinite tolerance leaves that property out.
type Criteria struct {
	Onset       float64 // seconds
	Cents       float64
	OffsetMin   float64 // seconds: offsets may differ by this much,
	OffsetRatio float64 // or by this share of the true note's length, whichever is more
}

// WithOffset are the usual criteria: onset within 50 ms, pitch within 50 cents,
// offset within 50 ms or 20 % of the length.
var WithOffset = Criteria{Onset: 0.05, Cents: 50, OffsetMin: 0.05, OffsetRatio: 0.2}

// NoOffset are the usual criteria without the offset.
var NoOffset = Criteria{Onset: 0.05, Cents: 50, OffsetMin: math.Inf(1)}

// Result says how many notes were matched, of how many in the truth (Ref) and
// in the transcription (Est). Precision is Matched/Est, Recall Matched/Ref, F
// their harmonic mean; all are 0 where nothing was matched. Overlap is the mean
// over matched notes of the time both sound divided by the time either does.
type Result struct {
	Matched, Ref, Est    int
	Precision, Recall, F float64
	Overlap              float64
}

// Notes matches the notes of a transcription to those of the truth, one to one
// and as many as possible, in any order.
func Notes(ref, est []Note, c Criteria) Result {
	onset := func(n Note) float64 { return n.Onset }
	matched := matchNear(ref, est, onset, c.Onset, func(i, j int) bool { return c.close(ref[i], est[j]) })
	r := result(matched, len(est))
	for i, j := range matched {
		if j >= 0 {
			r.Overlap += overlap(ref[i], est[j]) / float64(r.Matched)
		}
	}
	return r
}

func (c Criteria) close(ref, est Note) bool {
	return Within(ref.Onset, est.Onset, c.Onset) &&
		100*math.Abs(ref.Pitch-est.Pitch) <= c.Cents &&
		Within(ref.Offset, est.Offset, max(c.OffsetMin, c.OffsetRatio*(ref.Offset-ref.Onset)))
}

// Within compares times; rounding to 0.1 ms keeps a difference of exactly the
// tolerance from being lost in the last bits.
func Within(a, b, tolerance float64) bool {
	return math.RoundToEven(1e4*math.Abs(a-b))/1e4 <= tolerance
}

func overlap(a, b Note) float64 {
	both := min(a.Offset, b.Offset) - max(a.Onset, b.Onset)
	either := max(a.Offset, b.Offset) - min(a.Onset, b.Onset)
	return both / either
}

func result(matched []int, est int) Result {
	r := Result{Matched: Count(matched), Ref: len(matched), Est: est}
	if r.Matched > 0 {
		r.Precision = float64(r.Matched) / float64(r.Est)
		r.Recall = float64(r.Matched) / float64(r.Ref)
		r.F = F1(r.Matched, r.Ref, r.Est)
	}
	return r
}

// F1 is the harmonic mean of n/ref and n/est, and 0 if n is.
func F1(n, ref, est int) float64 {
	if n == 0 {
		return 0
	}
	return 2 * float64(n) / float64(ref+est)
}

func Count(matched []int) int {
	n := 0
	for _, j := range matched {
		if j >= 0 {
			n++
		}
	}
	return n
}

// Match finds a largest one-to-one matching between ref items and est items,
// where ok says whether two may be matched. For each ref item it returns the
// index of its est item, or -1. It grows the matching along augmenting paths,
// in order of the items, so the result is the same every time.
func Match(ref, est int, ok func(i, j int) bool) []int {
	edges := make([][]int, ref)
	for i := range edges {
		for j := range est {
			if ok(i, j) {
				edges[i] = append(edges[i], j)
			}
		}
	}
	return largest(edges, est)
}

// matchNear is Match for items that can be matched only if their times are within
// reach seconds, rounded as Within does; it tries no others.
func matchNear[T any](ref, est []T, time func(T) float64, reach float64, ok func(i, j int) bool) []int {
	order := make([]int, len(est))
	for j := range order {
		order[j] = j
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(time(est[a]), time(est[b])) })
	edges := make([][]int, len(ref))
	for i, r := range ref {
		from := sort.Search(len(order),
			func(k int) bool { return time(est[order[k]]) >= time(r)-reach-0.001 })
		for _, j := range order[from:] {
			if time(est[j]) > time(r)+reach+0.001 {
				break
			}
			if ok(i, j) {
				edges[i] = append(edges[i], j)
			}
		}
		slices.Sort(edges[i])
	}
	return largest(edges, len(est))
}

// largest matching of ref items, each with the est items it may have.
func largest(edges [][]int, est int) []int {
	owner := make([]int, est)
	for j := range owner {
		owner[j] = -1
	}
	var grow func(i int, seen map[int]bool) bool
	grow = func(i int, seen map[int]bool) bool {
		for _, j := range edges[i] {
			if seen[j] {
				continue
			}
			seen[j] = true
			if owner[j] < 0 || grow(owner[j], seen) {
				owner[j] = i
				return true
			}
		}
		return false
	}
	for i := range edges {
		grow(i, map[int]bool{})
	}
	matched := make([]int, len(edges))
	for i := range matched {
		matched[i] = -1
	}
	for j, i := range owner {
		if i >= 0 {
			matched[i] = j
		}
	}
	return matched
}

// NotesOf lists every sounding pitch of the events as a note.
func NotesOf(events []tab.Event) []Note {
	var out []Note
	for _, e := range events {
		for _, p := range e.Pitches {
			out = append(out, Note{e.Start, e.End, p})
		}
	}
	return out
}

// SameTab reports whether two events are the same tab. Two natural notes of the
// same pitch, each played alone (draw 2 and blow 3 of the common layout), count
// as the same: no listener could tell.
func SameTab(h harp.Harp, a, b []harp.Action) bool {
	if slices.Equal(a, b) {
		return true
	}
	return len(a) == 1 && len(b) == 1 && a[0].Bend == 0 && b[0].Bend == 0 &&
		h.Plays(a[0]) && h.Plays(b[0]) && h.MIDI(a[0]) == h.MIDI(b[0])
}
