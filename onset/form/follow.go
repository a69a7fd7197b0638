package form

import (
	"math"
	"slices"
)

// Beats are followed from groove to groove's bar by dynamic programming over when a
// beat begins, how long the one before it was, and its place in the bar, after the
// bar pointer of Whiteley, Cemgil & Godsill (2006), "Bayesian modelling of temporal
// structure in musical audio", with tempo free to change at beats only (Krebs, Böck
// & Widmer 2015, "An efficient state-space model for joint tempo and meter
// tracking").
const (
	slowestBeat  = 60. / 50 // s
	fastestBeat  = 60. / 200
	followWeight = 0.5  // of the grooves' evidence: neighbouring slots hear the same attacks
	give         = 0.06 // by how much beats differ from the usual at most, in parts
	steadiness   = 0.02 // standard deviation of a beat's length against the last, in parts
	steadyTempo  = 0.03 // the same against the usual length, where nothing else tells
	farthest     = 2    // frames by which a beat may differ from the one before
	usualBeat    = 110.0
	spreadBeat   = 0.45 // octaves
)

// path is a sequence of beats as frames of DrumHop, and what speaks for it.
type path struct {
	frames []int
	places []int // in the bar
	score  float64
	groove int
}

// lanes is the most places that bars may have to be followed; the dynamic programming
// goes on for all of them at once.
const lanes = 4

// evidence is what a groove says at each frame for each slot of each place, zeros
// standing for what lies before and after: slot by slot, and in each slot lane by lane.
type evidence struct {
	before int // frames
	values []float32
}

// evidence of a groove, with so many frames before the first and after the last; it
// lasts until the next.
func (x *scratch) hear(g Groove, a attacks, outside int) evidence {
	n := len(a[0])
	size := (n + 2*outside) * len(slotAt) * lanes
	x.evidence = slices.Grow(x.evidence[:0], size)[:size]
	clear(x.evidence)
	e := evidence{outside, x.evidence}
	for i := range n {
		at := e.values[(outside+i)*len(slotAt)*lanes:]
		for strand := range a {
			level := a[strand][i] & (1<<levelBits - 1)
			for place, beat := range g.Beats {
				tenths := beat[strand]
				for slot := range slotAt {
					at[slot*lanes+place] += weighed[strand][tenths[slot]-'0'][level]
				}
			}
		}
	}
	return e
}

// follower finds paths through the evidence of grooves.
type follower struct {
	frames int
	least  int       // frames of the shortest beat
	lo, hi []int     // which lengths, counted from least, a beat that ends at each frame may have
	cost   []float32 // of each length of a beat that ends at each frame, against the usual
	slot   [][len(slotAt)]int
	uneven [][2*farthest + 1]float32 // cost of the lengths, by the difference from the one before
}

// scratch is what following takes, used again and again.
type scratch struct {
	evidence []float32
	total    [][lanes]float32 // of the best path that ends in each beat, by its last frame and length
	before   [][lanes]int8    // difference of the length before
}

// newFollower is for beats that take about usual frames at each frame.
func newFollower(usual []float64) *follower {
	f := &follower{frames: len(usual), least: int(slices.Min(usual) * (1 - give))}
	span := int(math.Ceil(slices.Max(usual)*(1+give))) - f.least + 1
	f.slot, f.uneven = make([][len(slotAt)]int, span), make([][2*farthest + 1]float32, span)
	for k := range span {
		for i, s := range slotAt {
			f.slot[k][i] = (int(math.Round(s*float64(f.least+k)))*len(slotAt) + i) * lanes
		}
		for d := range f.uneven[k] {
			f.uneven[k][d] = unevenness(d-farthest, f.least+k)
		}
	}
	f.lo, f.hi, f.cost = make([]int, len(usual)), make([]int, len(usual)), make([]float32, len(usual)*span)
	for t := range usual {
		f.hi[t] = -1
		for k := range span {
			u := usual[max(t-f.least-k, 0)]
			off := math.Abs(float64(f.least+k) - u)
			if off > give*u+0.5 {
				continue
			}
			if f.hi[t] < 0 {
				f.lo[t] = k
			}
			f.hi[t] = k
			z := off / u / steadyTempo
			f.cost[t*span+k] = float32(z * z / 2)
		}
	}
	return f
}

// longestBeat is the frames of the longest beat.
func (f *follower) longestBeat() int { return f.least + len(f.slot) }

// beat is the evidence for a beat of a length from a frame on, place by place.
func (f *follower) beat(e evidence, from, k int) (sum [lanes]float32) {
	at := e.values[(e.before+from)*len(slotAt)*lanes:]
	for _, i := range f.slot[k] {
		v := at[i : i+lanes : i+lanes]
		sum[0] += v[0]
		sum[1] += v[1]
		sum[2] += v[2]
		sum[3] += v[3]
	}
	for p := range sum {
		sum[p] *= followWeight
	}
	return sum
}

const never = -1e9 // the score of what cannot be

// follow finds the best path for a groove's evidence, in bars of so many places.
func (f *follower) follow(e evidence, places int, x *scratch) path {
	n, span := f.frames, len(f.slot)
	x.total, x.before = slices.Grow(x.total[:0], n*span)[:n*span], slices.Grow(x.before[:0], n*span)[:n*span]
	for i := range x.total {
		x.total[i] = [lanes]float32{never, never, never, never}
	}
	for t := range n {
		for k := f.lo[t]; k <= f.hi[t]; k++ {
			i, start := t*span+k, t-f.least-k
			best, step := [lanes]float32{}, [lanes]int8{farthest + 1, farthest + 1, farthest + 1, farthest + 1}
			if start >= 0 { // else the section begins within the beat before
				best, step = f.last(x.total[start*span:][:span], k)
			}
			beat := f.beat(e, start, k)
			for from := range places {
				place := from + 1
				if place == places {
					place = 0
				}
				x.total[i][place], x.before[i][place] = best[from]+beat[from]-f.cost[i], step[from]
			}
		}
	}
	return f.trace(e, places, x)
}

// last is, place by place, the best length of a beat before one of length k: its
// total, given those of all lengths, and the difference.
func (f *follower) last(totals [][lanes]float32, k int) (best [lanes]float32, step [lanes]int8) {
	best = [lanes]float32{never, never, never, never}
	for d, cost := range f.uneven[k] {
		j := k + d - farthest
		if uint(j) >= uint(len(totals)) {
			continue
		}
		row := &totals[j]
		for p := range row {
			if v := row[p] - cost; v > best[p] {
				best[p], step[p] = v, int8(d-farthest)
			}
		}
	}
	return best, step
}

// trace goes back from the best last beat, which begins within the section's last.
func (f *follower) trace(e evidence, places int, x *scratch) path {
	n, span := f.frames, len(f.slot)
	out := path{score: math.Inf(-1)}
	t, place, k := -1, 0, 0
	for at := max(0, n-f.longestBeat()+1); at < n; at++ {
		for j := range span {
			if at+f.least+j < n {
				continue
			}
			beat := f.beat(e, at, j)
			for p := range places {
				total := x.total[at*span+j][p]
				if v := float64(total + beat[p]); total > never/2 && v > out.score {
					out.score, t, place, k = v, at, p, j
				}
			}
		}
	}
	for t >= 0 {
		out.frames, out.places = append(out.frames, t), append(out.places, place)
		step := x.before[t*span+k][place]
		if step > farthest {
			break
		}
		t, place, k = t-f.least-k, (place+places-1)%places, k+int(step)
	}
	slices.Reverse(out.frames)
	slices.Reverse(out.places)
	return out
}

func unevenness(d, length int) float32 {
	z := max(0, math.Abs(float64(d))-0.8) / float64(length) / steadiness
	return float32(z * z / 2)
}

// tempoPrior is the logarithm of how likely a beat of so many seconds is, by a
// log-normal distribution as in Ellis (2007).
func tempoPrior(beat float64) float64 {
	z := math.Log2(60/beat/usualBeat) / spreadBeat
	return -byRatio.tempo * z * z / 2
}

// follower for beats about as long as those given times a ratio.
func (s Sound) follower(beats []float64, pauses []bool, ratio float64) *follower {
	usual := s.usual(beats, len(pauses), ratio)
	for t := 1; t < len(usual); t++ {
		if pauses[t] { // nothing tells of the tempo
			usual[t] = usual[t-1]
		}
	}
	return newFollower(usual)
}

// usual is the length in frames of the beats around each of n frames, times a ratio.
func (s Sound) usual(beats []float64, n int, ratio float64) []float64 {
	out := make([]float64, n)
	i := 0
	for t := range out {
		for i+1 < len(beats) && beats[i+1] < s.Start+float64(t)*s.DrumHop {
			i++
		}
		from, to := max(0, i-smoothBeats), min(len(beats)-1, i+smoothBeats)
		out[t] = ratio * (beats[to] - beats[from]) / float64(to-from) / s.DrumHop
	}
	return out
}

// rhythms is what the grooves say for each place of each beat, by the paths' shares.
func (s Sound) rhythms(gs []Groove, a attacks, beats []float64, paths []path) [][]float64 {
	out := make([][]float64, len(beats))
	for i := range out {
		out[i] = make([]float64, len(gs[0].Beats))
	}
	all := 0.0
	for _, p := range paths {
		all += math.Exp(grooveWeight * (p.score - paths[0].score))
	}
	for _, p := range paths {
		share := math.Exp(grooveWeight*(p.score-paths[0].score)) / all
		if share < 0.01 {
			break
		}
		for i, t := range beats {
			j := min(i, len(beats)-2)
			frames := (beats[j+1] - beats[j]) / s.DrumHop
			from := (t - s.Start) / s.DrumHop
			for place, b := range gs[p.groove].Beats {
				out[i][place] += share * b.says(a, from, frames)
			}
		}
	}
	return out
}

// says is the evidence for a beat of so many frames from a frame on.
func (p Pattern) says(a attacks, from, frames float64) float64 {
	sum := float32(0)
	for slot, part := range slotAt {
		k := int(math.Round(from + part*frames))
		if k < 0 || k >= len(a[0]) {
			continue
		}
		for strand := range a {
			sum += weighed[strand][p[strand][slot]-'0'][a[strand][k]]
		}
	}
	return float64(sum)
}

const grooveWeight = 0.3

// times of a path's beats in seconds, evened out: each lies on the straight line
// through those around it. After the last sound beats go on as they were.
func (s Sound) times(p path, pauses []bool) []float64 {
	out := make([]float64, len(p.frames))
	sounding := len(out)
	for sounding > 2 && pauses[p.frames[sounding-1]] {
		sounding--
	}
	for i := range out {
		from, to := max(0, i-smoothBeats), min(sounding, i+smoothBeats+1)
		if to-from < 2 {
			out[i] = s.Start + float64(p.frames[i])*s.DrumHop
			continue
		}
		var n, sx, sy, sxx, sxy float64
		for j := from; j < to; j++ {
			x, y := float64(j-i), float64(p.frames[j])
			n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
		}
		middle := sy / n
		if d := n*sxx - sx*sx; d > 0 {
			middle = (sxx*sy - sx*sxy) / d
		}
		out[i] = s.Start + middle*s.DrumHop
	}
	last := max(0, sounding-2) // the last beat that sounds may be a stray
	from := max(0, last-goOn)
	if last > from && last+2 < len(out) {
		length := (out[last] - out[from]) / float64(last-from)
		for i := last + 1; i < len(out); i++ {
			out[i] = out[last] + float64(i-last)*length
		}
	}
	if len(out) < 2 {
		return out
	}
	length := out[1] - out[0]
	if before := out[0] - length; before > s.Start-cutBeat*length {
		out = append([]float64{max(before, s.Start)}, out...)
	}
	return out
}

// cutBeat is how much of a beat may lie before the section if it is to count: nothing
// rises where sound sets in.
const cutBeat = 0.15

const goOn = 16 // beats that tell how long those in a last pause are

const smoothBeats = 4
