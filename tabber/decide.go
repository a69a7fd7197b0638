package tabber

import (
	"math"

	"blowdraw/pitch"

	"gonum.org/v1/gonum/floats"
)

// weights say how much a decision trusts each kind of evidence.
type weights struct {
	sounding, breath, count float64 // exponents of the ear's probabilities
	lean                    float64 // log odds by which the ear overstates what sounds
	attack, event           float64
	attackFloor             float64 // least log odds that an attack can have
	attackCeil              float64
	moves                   moves
}

// minFrames is the least length of a note in frames (35 ms).
const minFrames = 3

// lattice is the search space over one window: states that last at least
// minFrames (silence excepted), entered at a cost that attacks lower.
type lattice struct {
	states []state
	frames pitch.Frames
	w      weights
	cost   [][]float64 // [to][from] log weights
	emit   []float64   // of the frame at hand, one per state
	onset  []float64
	bounds []bound // what each frame is bound to; nil if none is

	faint, silent float64 // what soundingOdds says of the least probability
	never         float64 // odds of an attack at its floor
}

// bound ties a frame to a state, -1 to none. With begin the state must begin
// there, without it nothing may.
type bound struct {
	state int
	begin bool
}

// bind rules out, in the scores of frame t, what its bound does not allow.
func (l *lattice) bind(t int) {
	if l.bounds == nil || l.bounds[t].state < 0 {
		return
	}
	b := l.bounds[t]
	for i := range l.emit {
		if i != b.state {
			l.emit[i] = math.Inf(-1)
		}
	}
	if !b.begin {
		l.onset[b.state] = math.Inf(-1)
	}
}

// lasts reports whether notes may go on from the frame before into frame t.
func (l *lattice) lasts(t int) bool { return l.bounds == nil || !l.bounds[t].begin }

func newLattice(s []state, f pitch.Frames, w weights) *lattice {
	l := &lattice{states: s, frames: f, w: w, emit: make([]float64, len(s)), onset: make([]float64, len(s)), never: math.Exp(w.attackFloor)}
	l.faint, l.silent = l.soundingOdds(least)
	l.cost = make([][]float64, len(s))
	for to := range s {
		l.cost[to] = make([]float64, len(s))
		for from := range s {
			l.cost[to][from] = w.moves.cost(&s[from], &s[to])
		}
	}
	return l
}

// another is the same lattice with scores of its own, so that both can be gone through
// at once.
func (l *lattice) another() *lattice {
	other := *l
	other.emit, other.onset = make([]float64, len(l.states)), make([]float64, len(l.states))
	return &other
}

// score fills emit and onset with the log weights of frame t.
func (l *lattice) score(t int) {
	f, w := &l.frames, &l.w
	var odds, attack [pitch.Rows]float64
	quiet := 0.0
	for r := range pitch.Rows {
		x, silent := l.faint, l.silent
		if p := float64(f.Sounding[t*pitch.Rows+r]); p > least {
			x, silent = l.soundingOdds(p)
		}
		odds[r] = w.sounding * x
		quiet += w.sounding * silent
		attack[r] = l.attackOdds(f.Attack[t*pitch.Rows+r])
	}
	var breath [3]float64
	var count [4]float64
	if f.Breath != nil {
		for i, p := range f.Breath[t] {
			breath[i] = w.breath * math.Log(clip(float64(p)))
		}
		for i, p := range f.Count[t] {
			count[i] = w.count * math.Log(clip(float64(p)))
		}
	}
	event := l.attackOdds(f.Event[t])
	for i := range l.states {
		s := &l.states[i]
		e, a := quiet+breath[s.breath]+count[min(len(s.rows), 3)], 0.0
		if s.either || s.breath == 0 && len(s.rows) > 0 {
			e = quiet + max(breath[1], breath[2]) + count[min(len(s.rows), 3)]
		}
		for _, r := range s.rows {
			e += odds[r]
			a += attack[r]
		}
		l.emit[i], l.onset[i] = e, 0
		if len(s.rows) > 0 {
			l.onset[i] = w.attack*a/float64(len(s.rows)) + w.event*event
		}
	}
	l.bind(t)
}

// least and 1-least are the limits between which probabilities are taken.
const least = 0.002

func clip(p float64) float64 { return min(max(p, least), 1-least) }

// soundingOdds are the log odds that a row sounds, less what the ear overstates,
// and the log probability that it does not.
func (l *lattice) soundingOdds(p float64) (odds, silent float64) {
	p = clip(p)
	odds = math.Log(p/(1-p)) - l.w.lean
	return odds, -math.Log1p(math.Exp(odds))
}

func (l *lattice) attackOdds(p float32) float64 {
	q := clip(float64(p))
	if q < l.never*(1-q) {
		return l.w.attackFloor
	}
	return min(max(math.Log(q/(1-q)), l.w.attackFloor), l.w.attackCeil)
}

// span is a stretch of frames [from, to) in one state. The search found the
// begin at frame found. Octave are the log odds that an octave sounds rather than
// its lower reed alone, 0 where that is no question.
type span struct {
	state, from, to, found int
	octave                 float64
}

// best is the likeliest sequence of states (Viterbi 1967), silence left out.
func (l *lattice) best() []span {
	n, s := l.frames.N, len(l.states)
	v, next := newLayers(s, math.Inf(-1)), newLayers(s, math.Inf(-1))
	back := make([]int16, n*s)    // state before a note that begins here
	stay := make([]bool, n*s)     // whether the last layer came from itself
	quietBack := make([]int16, n) // state before silence at this frame
	v[last][0] = 0
	spread := l.costSpread()
	var near []int // states that can be the best to come from
	for t := range n {
		l.score(t)
		near = within(near[:0], v[last], floats.Max(v[last])-spread)
		top, from := v[last][0], 0
		for _, i := range near {
			if x := v[last][i] + l.cost[0][i]; i > 0 && x > top {
				top, from = x, i
			}
		}
		next[last][0], quietBack[t] = top+l.emit[0], int16(from)
		for i := 1; i < s; i++ {
			top, from := math.Inf(-1), 0
			for _, j := range near {
				if x := v[last][j] + l.cost[i][j]; x > top {
					top, from = x, j
				}
			}
			back[t*s+i] = int16(from)
			next[0][i] = top + l.onset[i] + l.emit[i]
			for k := 1; k < last; k++ {
				next[k][i] = v[k-1][i] + l.emit[i]
			}
			if !l.lasts(t) {
				for k := 1; k <= last; k++ {
					next[k][i] = math.Inf(-1)
				}
				continue
			}
			grown, same := v[last-1][i], v[last][i]
			stay[t*s+i] = same >= grown
			next[last][i] = max(same, grown) + l.emit[i]
		}
		v, next = next, v
	}
	return l.trace(v, back, stay, quietBack)
}

// costSpread is the largest difference between the costs of entering one state
// from different ones.
func (l *lattice) costSpread() float64 {
	spread := 0.0
	for _, c := range l.cost {
		spread = max(spread, floats.Max(c)-floats.Min(c))
	}
	return spread
}

// within appends the indices of values of at least least.
func within(dst []int, values []float64, least float64) []int {
	for i, x := range values {
		if x >= least {
			dst = append(dst, i)
		}
	}
	return dst
}

// last is the layer of notes that have had their least length.
const last = minFrames - 1

type layers [minFrames][]float64

// newLayers of n states, all with the same value; silence keeps it in all layers
// but the last.
func newLayers(n int, value float64) *layers {
	var v layers
	for k := range v {
		v[k] = make([]float64, n)
		for i := range v[k] {
			v[k][i] = value
		}
	}
	return &v
}

func (l *lattice) trace(v *layers, back []int16, stay []bool, quietBack []int16) []span {
	s, layer, state := len(l.states), last, 0
	for k := range v {
		for i, x := range v[k] {
			if x > v[layer][state] {
				layer, state = k, i
			}
		}
	}
	var spans []span
	end := l.frames.N
	for t := l.frames.N - 1; t >= 0; t-- {
		switch {
		case state == 0:
			state = int(quietBack[t])
			end = t
		case layer == 0:
			spans = append(spans, span{state: state, from: t, to: end, found: t})
			state, layer, end = int(back[t*s+state]), last, t
		case layer < last || !stay[t*s+state]:
			layer--
		}
	}
	for i, j := 0, len(spans)-1; i < j; i, j = i+1, j-1 {
		spans[i], spans[j] = spans[j], spans[i]
	}
	return spans
}

// posterior is what forward and backward passes over the lattice say of every
// frame (Rabiner 1989): In[t*S+i] is the probability of state i at frame t,
// Begin[t*S+i] that state i begins there.
type posterior struct {
	s         int
	in, begin []float32
}

func (l *lattice) posterior() posterior {
	n, s := l.frames.N, len(l.states)
	weight := make([][]float64, s) // [to][from]
	turned := make([][]float64, s) // [from][to]
	for to := range weight {
		weight[to] = make([]float64, s)
		for from := range weight[to] {
			weight[to][from] = math.Exp(l.cost[to][from])
		}
	}
	weight[0][0] = 1 // silence lasts at no cost
	for from := range turned {
		turned[from] = make([]float64, s)
		for to := range turned[from] {
			turned[from][to] = weight[to][from]
		}
	}
	emits, onsets := make([]float32, n*s), make([]float32, n*s)
	for t := range n {
		l.score(t)
		top := math.Inf(-1)
		for _, e := range l.emit {
			top = max(top, e)
		}
		for i := range s {
			emits[t*s+i] = float32(math.Exp(l.emit[i] - top))
			onsets[t*s+i] = float32(math.Exp(l.onset[i]))
		}
	}
	forward := l.forward(turned, emits, onsets)
	return l.backward(weight, emits, onsets, forward)
}

// forward returns for every frame the scaled weights [t][layer][state]; turned is
// [from][to].
func (l *lattice) forward(turned [][]float64, emits, onsets []float32) []float32 {
	n, s := l.frames.N, len(l.states)
	out := make([]float32, n*minFrames*s)
	v, next := newLayers(s, 0), newLayers(s, 0)
	v[last][0] = 1
	entered := make([]float64, s)
	var near []int
	for t := range n {
		near = within(near[:0], v[last], negligible*floats.Max(v[last]))
		e, o := emits[t*s:(t+1)*s], onsets[t*s:(t+1)*s]
		total, lasts := 0.0, l.lasts(t)
		sumAt(entered, near, v[last], turned)
		for i, in := range entered {
			if i == 0 {
				next[last][0] = in * float64(e[0])
				total += next[last][0]
				continue
			}
			next[0][i] = in * float64(o[i]) * float64(e[i])
			for k := 1; k < last; k++ {
				next[k][i] = v[k-1][i] * float64(e[i])
			}
			next[last][i] = (v[last-1][i] + v[last][i]) * float64(e[i])
			if !lasts {
				for k := 1; k <= last; k++ {
					next[k][i] = 0
				}
			}
			for k := range next {
				total += next[k][i]
			}
		}
		for k := range next {
			for i := range next[k] {
				next[k][i] /= total
				out[(t*minFrames+k)*s+i] = float32(next[k][i])
			}
		}
		v, next = next, v
	}
	return out
}

// backward goes back over what forward returned; weight is [to][from].
func (l *lattice) backward(weight [][]float64, emits, onsets, forward []float32) posterior {
	n, s := l.frames.N, len(l.states)
	p := posterior{s, make([]float32, n*s), make([]float32, n*s)}
	b, prev := newLayers(s, 1), newLayers(s, 0)
	entry := make([]float64, s)
	var near []int
	for t := n - 1; t >= 0; t-- {
		f := forward[t*minFrames*s : (t+1)*minFrames*s]
		total := 0.0
		for k := range minFrames {
			for i := range s {
				total += float64(f[k*s+i]) * b[k][i]
			}
		}
		for i := range s {
			sum := 0.0
			for k := range minFrames {
				sum += float64(f[k*s+i]) * b[k][i]
			}
			p.in[t*s+i] = float32(sum / total)
			if i > 0 {
				p.begin[t*s+i] = float32(float64(f[i]) * b[0][i] / total)
			}
		}
		e, o := emits[t*s:(t+1)*s], onsets[t*s:(t+1)*s]
		entry[0] = b[last][0] * float64(e[0])
		for i := 1; i < s; i++ {
			entry[i] = b[0][i] * float64(e[i]) * float64(o[i])
		}
		scale, lasts := 0.0, l.lasts(t)
		near = within(near[:0], entry, negligible*floats.Max(entry))
		sumAt(prev[last], near, entry, weight)
		for i := range s {
			if i > 0 && lasts {
				for k := range last {
					prev[k][i] = b[k+1][i] * float64(e[i])
				}
				prev[last][i] += b[last][i] * float64(e[i])
			} else if i > 0 {
				for k := range last {
					prev[k][i] = 0
				}
			}
			scale = max(scale, prev[last][i])
		}
		for k := range prev {
			for i := range prev[k] {
				prev[k][i] /= scale
			}
		}
		b, prev = prev, b
	}
	return p
}

// negligible is the share of the largest weight below which others are left out
// of a sum.
const negligible = 1e-7

// sumAt sets dst to the sum of the listed rows, each times its share.
func sumAt(dst []float64, at []int, share []float64, rows [][]float64) {
	clear(dst)
	for _, i := range at {
		floats.AddScaled(dst, share[i], rows[i])
	}
}
