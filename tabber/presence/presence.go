// Package presence tells where in a recording a harp plays, where probably a
// voice, and where neither.
//
// Whether an event is a harp's is told by what it is like (traits.go) - how sure
// the ear was of reeds, breath and number, how it stands out, how its pitch and
// partials move - and by what the ear's last layer over all rows holds while it
// lasts: the ear was trained on harps among bands and singers that it had to pass
// over, so it knows more of who plays than it says. (Features from inside a
// network that was trained for something else: Choi, Fazekas, Sandler & Cho 2017,
// "Transfer learning for music classification and regression tasks", ISMIR.) A
// logistic model (model.go) gives the odds of each event, and the likeliest
// sequence of players (Viterbi 1967), who seldom change within a breath, decides.
// The forward and backward probabilities (Rabiner 1989) over the same events say how
// sure it is that a harp plays each, by which the confidence of the event is multiplied.
//
// Voices are told in blocks of a quarter of a second with half a second on either
// side, by the events there and by what tells speech and song from instruments in
// the classical way (cues.go), the pulsing of the level, the glide of the
// strongest partials and the wandering of the spectral centroid (Scheirer &
// Slaney 1997, "Construction and evaluation of a robust multifeature speech/music
// discriminator", ICASSP).
package presence

import (
	"math"
	"slices"
	"sync"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Kind is who plays.
type Kind int

// Harp, a voice that sings or speaks, or anything else: a band, silence.
const (
	Harp Kind = iota
	Voice
	Other
	none
)

// Stretch is a part of a recording, in seconds from its start.
type Stretch struct {
	Kind       Kind
	Start, End float64
}

// Track gathers what is needed of a section, heard window by window.
type Track struct {
	start  float64
	pieces []piece  // of frames that will not be heard again
	recent []sketch // the others

	level, whole []centibel                  // of every frame, see sketch
	spectrum     [sketchWindow/2 + 1]float64 // power, summed over frames
}

// Add takes what is new in a window, whose frames coincide with those of the
// windows before, and what tells of each of the events that were heard in it. Of an ear
// that tells no breath nothing is known.
func (t *Track) Add(h harp.Harp, f pitch.Frames, c decode.Clip, events []tab.Event) []Heard {
	out := make([]Heard, len(events))
	if f.Breath == nil {
		return out
	}
	var wg sync.WaitGroup
	wg.Go(func() { t.sketch(f, c) })
	model := harpModel()
	parallel.Each(len(events), func(_, i int) {
		if x := EventCues(h, f, c, events[i]); x != nil {
			out[i] = Heard{true, traits(x), model.Odds(x)}
		}
	})
	wg.Wait()
	return out
}

// Heard is what is kept of an event, to tell who plays it.
type Heard struct {
	known bool
	traits
	odds float64 // log odds that a harp plays it
}

// Event is an event with what was heard of it.
type Event struct {
	tab.Event
	Heard Heard
}

// EventCues are what the harp's model sees of an event: its traits, the products of
// every two of them, and the means and the standard deviations over its frames of
// pitch.Frames.Whole. Nil if the event lies beyond the rows.
func EventCues(h harp.Harp, f pitch.Frames, c decode.Clip, e tab.Event) []float64 {
	rows := rowsOf(h, f.Axis, e)
	from := max(0, int(math.Round((e.Start-f.Start)/pitch.HopSeconds)))
	to := min(int(math.Round((e.End-f.Start)/pitch.HopSeconds)), f.N)
	if from >= to || len(rows) == 0 {
		return nil
	}
	x := traitsOf(f, c, e, rows, from, to)
	out := append(x[:], products(x)...)
	mean, spread := make([]float64, pitch.WholeWidth), make([]float64, pitch.WholeWidth)
	if f.Whole != nil {
		wholes(f.Whole[from:to], mean, spread)
	}
	return append(append(out, mean...), spread...)
}

// products of every two traits: how long a note is, or how it stands out, changes
// what the others tell.
func products(x traits) []float64 {
	var out []float64
	for i, a := range x {
		for _, b := range x[i:] {
			out = append(out, a*b)
		}
	}
	return out
}

// wholes adds the means over frames to mean, and the standard deviations to spread.
func wholes(frames [][]float32, mean, spread []float64) {
	n := float64(len(frames))
	for _, f := range frames {
		for i, v := range f {
			mean[i] += float64(v) / n
			spread[i] += float64(v) * float64(v) / n
		}
	}
	for i, m := range mean {
		spread[i] = math.Sqrt(max(0, spread[i]-m*m))
	}
}

// Block is what the voice's model sees of a block.
type Block struct {
	Time float64 // of its middle, in seconds from the start of the recording
	Cues []float64
}

// Blocks are all blocks of what was added, given the events heard in it.
func (t *Track) Blocks(events []Event) []Block {
	var out []Block
	t.each(events, func(i int, x *cues) {
		out = append(out, Block{t.start + (float64(i)+0.5)*blockSeconds, slices.Clone(x[:])})
	})
	return out
}

// Players tells who plays where in all that was added. The harp plays where
// events are that are its own, and in the space between two of them if that is
// less than space seconds.
func (t *Track) Players(events []Event) Players {
	ours, sure := t.harps(events)
	p := Players{Verdicts: make([]Verdict, len(events))}
	for i := range p.Verdicts {
		p.Verdicts[i] = Verdict{Harp, 1}
	}
	if t.frames() == 0 {
		return p
	}
	p.Stretches = t.stretches(t.voices(events), harpStretches(events, ours))
	for i, e := range events {
		kind := Harp
		if !ours[i] {
			kind = p.mostly(e.Start, e.End)
		}
		p.Verdicts[i] = Verdict{kind, sure[i]}
	}
	return p
}

// Players are who plays in a recording. Stretches are all of it in order, nil if
// nothing is known; verdicts are those of the events.
type Players struct {
	Stretches []Stretch
	Verdicts  []Verdict
}

// Verdict is who plays an event, and the probability that a harp does; a harp surely
// if nothing is known.
type Verdict struct {
	Kind Kind
	Harp float64
}

// space in seconds is the longest rest of a harp that plays on.
const space = 4.0

// harpStretches makes stretches of the harp's events: one of those with no event of
// another between them that are less than space apart.
func harpStretches(events []Event, ours []bool) []Stretch {
	var out []Stretch
	for i, e := range events {
		if !ours[i] {
			continue
		}
		if n := len(out); n > 0 && ours[i-1] && e.Start-out[n-1].End < space {
			out[n-1].End = max(out[n-1].End, e.End)
			continue
		}
		out = append(out, Stretch{Harp, e.Start, e.End})
	}
	return out
}

// stretches are all of a recording: the harp's, and between them what the blocks
// are.
func (t *Track) stretches(blocks []Kind, harps []Stretch) []Stretch {
	var out []Stretch
	add := func(s Stretch) {
		if n := len(out); n > 0 && out[n-1].Kind == s.Kind && out[n-1].End == s.Start {
			out[n-1].End = s.End
		} else if s.End > s.Start {
			out = append(out, s)
		}
	}
	at := t.start
	between := func(until float64) {
		for i, k := range blocks {
			end := t.start + float64(i+1)*blockSeconds
			if end > at && at < until {
				add(Stretch{k, at, min(end, until)})
				at = min(end, until)
			}
		}
	}
	for _, h := range harps {
		between(h.Start)
		if h.Start = max(h.Start, at); h.End > h.Start {
			add(h)
			at = h.End
		}
	}
	between(math.Inf(1))
	return out
}

// mostly is who but the harp plays most of the time from start to end.
func (p Players) mostly(start, end float64) Kind {
	var share [none]float64
	for _, s := range p.Stretches {
		share[s.Kind] += max(0, min(end, s.End)-max(start, s.Start))
	}
	if share[Voice] > share[Other] {
		return Voice
	}
	return Other
}

// harps tells for each event whether a harp plays it, and how probable that is.
// What the ear has no rows for goes with its neighbours.
func (t *Track) harps(events []Event) (ours []bool, sure []float64) {
	n := len(events)
	decide, believe, bare, cost := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i, e := range events {
		if x := e.Heard; x.known {
			z, weight := min(max(x.odds, -most), most), min(1, (e.End-e.Start)/full)
			decide[i], believe[i], bare[i] = weight*(z+harpFirst), weight*(z+harpHalf), weight*z
		}
		if i > 0 {
			cost[i] = switching * math.Exp(-max(0, e.Start-events[i-1].End)/apart)
		}
	}
	return decided(decide, cost), believed(bare, believe, cost)
}

// decided is the likeliest answer for each event. That all are a harp's, or none
// is, counts mixed more than that some are.
func decided(odds, cost []float64) []bool {
	ours := likeliest(odds, cost)
	all, some := 0.0, -mixed
	for i, z := range odds {
		all += z
		if ours[i] {
			some += z
		}
		if i > 0 && ours[i] != ours[i-1] {
			some -= cost[i]
		}
	}
	if max(all, 0) > some {
		for i := range ours {
			ours[i] = all >= 0
		}
	}
	return ours
}

// believed is the probability that a harp plays each event, with the same in mind:
// that one plays at all, by the bare odds, times that it plays this event if so, by
// odds in favour of the harp.
func believed(bare, odds, cost []float64) []float64 {
	_, none := weighed(bare, cost)
	sure, _ := weighed(odds, cost)
	for i := range sure {
		sure[i] *= 1 - none
	}
	return sure
}

// weighed is the probability that a harp plays each event, and that it plays none.
func weighed(odds, cost []float64) (sure []float64, none float64) {
	sure, some := posterior(odds, cost)
	all := 0.0
	for _, z := range odds {
		all += z
	}
	some -= mixed
	total := logSum(logSum(some, all), 0)
	for i := range sure {
		sure[i] = sure[i]*math.Exp(some-total) + math.Exp(all-total)
	}
	return sure, math.Exp(-total)
}

// voices is Voice or Other for every block, as if no harp played.
func (t *Track) voices(events []Event) []Kind {
	var odds, cost []float64
	model := voiceModel()
	t.each(events, func(_ int, x *cues) {
		odds, cost = append(odds, trusted*model.Odds(x[:])), append(cost, voiceSwitching)
	})
	out := make([]Kind, len(odds))
	for i, yes := range likeliest(odds, cost) {
		out[i] = Other
		if yes {
			out[i] = Voice
		}
	}
	return out
}

// likeliest decides yes or no for each case, given the log odds of yes and
// what a change to that case costs (Viterbi 1967).
func likeliest(odds, cost []float64) []bool {
	type choice struct{ fromNo, fromYes bool } // whether yes was before
	back := make([]choice, len(odds))
	no, yes := 0.0, 0.0
	for i, z := range odds {
		back[i] = choice{yes-cost[i] > no, yes >= no-cost[i]}
		no, yes = max(no, yes-cost[i]), max(yes, no-cost[i])+z
	}
	out := make([]bool, len(odds))
	now := yes >= no
	for i := len(out) - 1; i >= 0; i-- {
		out[i] = now
		if now {
			now = back[i].fromYes
		} else {
			now = back[i].fromNo
		}
	}
	return out
}

// posterior is the probability of yes for each case, given the log odds of yes
// and what a change to that case costs (forward and backward weights, Rabiner
// 1989), and the log likelihood of all there is.
func posterior(odds, cost []float64) (out []float64, log float64) {
	n := len(odds)
	out = make([]float64, n)
	no, yes := 0.0, 0.0
	for i, z := range odds {
		if i > 0 {
			no, yes = logSum(no, yes-cost[i]), logSum(yes, no-cost[i])
		}
		yes += z
		out[i] = yes - no
	}
	log = logSum(no, yes)
	no, yes = 0, 0
	for i := n - 1; i >= 0; i-- {
		out[i] = 1 / (1 + math.Exp(-out[i]-yes+no))
		yes += odds[i]
		no, yes = logSum(no, yes-cost[i]), logSum(yes, no-cost[i])
	}
	return out, log
}

// logSum is the logarithm of the sum of what a and b are the logarithms of.
func logSum(a, b float64) float64 { return max(a, b) + math.Log1p(math.Exp(-math.Abs(a-b))) }
