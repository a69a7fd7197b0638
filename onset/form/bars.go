// Package form finds where in the music a recording is: the first beats of its
// bars, the chords of its band, and the blues form that they make.
//
// [Sound] gathers what the band plays. [FindBars] finds bars in two ways. In one, the
// beats that it is given are moved by a third, a half or two thirds of one if the
// drums and chords say so. In the other, beats are followed from groove to
// groove: how likely bass drum, bass, chords, snare and the player's notes begin in
// each part of each beat of a bar was counted for twelve ways to play one, and
// dynamic programming finds the beats that fit one of them best, at the tempo given or
// at another that it may be mistaken for. In both, each beat's place in the bar is decided
// by a hidden Markov model over place and chord (forward and backward probabilities:
// Rabiner 1989). Chords change on first beats, now and then in the middle of a bar; the
// bass plays roots, on the first beat most of all; bass drum and snare take turns
// (common practice, no source). Joint models of chords and downbeats are due to
// Papadopoulos & Peeters (2011), "Joint estimation of chords and downbeats from an
// audio signal". Which of the two is believed, and how sure the bars are, is decided by
// whether both agree, and how sure each was; that agreement decides was chosen on takes
// of generated bands of seeds 3, 4 and 13. Without a band there are no bars: a low harp
// alone has as much in the bass as one. Three beats to a bar have to be told; where they
// are much likelier than four no bars are believed ([Bars].Three).
//
// What was fitted lies in the folder fitted, one model a file; it was fitted to generated
// bands made of sampled instruments (tabber/lab/bars), not to recordings.
package form

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/decode/logistic"
)

// Note is a note of the player, which is not the band's: start and end in seconds,
// pitch as a MIDI number.
type Note struct{ Start, End, Pitch float64 }

// Options of [FindBars].
type Options struct {
	Meter  int      // beats in a bar; 0: 4
	At     *float64 // when some bar begins, in seconds; nil: find out
	Fixed  bool     // the beats are sure, and not to be moved
	Steady bool     // the beats' tempo is sure
	Key    *int     // pitch class of the song; nil if unknown
	Alone  bool     // no band plays
}

// meter is the number of beats in a bar.
func (o Options) meter() int {
	if o.Meter == 0 {
		return 4
	}
	return o.Meter
}

// SureFrom is the probability from which bars are worth writing.
const SureFrom = 0.5

// Bars are the bars of a recording.
type Bars struct {
	Beats  []float64 // s, moved where the band says so
	Firsts []int     // indices of the beats that begin a bar
	Sure   float64   // probability that they do
	Each   []float64 // probability of each of Firsts by what is played about it; none where that was given
	One    int       // index in Firsts of the bar at Options.At; -1 if that was not given
	Three  bool      // three beats to the bar are likelier than four, so that these bars are not believed
}

// ratios by which the beats' lengths may be mistaken.
var ratios = []float64{1, 2, 0.5, 1.5, 2. / 3, 4. / 3, 0.75}

// A bass's share of what sounds, player left out: without a band, and with one. On
// the player alone it is reverberation and noise, and may be as much where a low harp
// plays.
const (
	noBass   = 0.08
	someBass = 0.10
)

// FindBars finds the bars of a section, given its beats in seconds and the notes
// of the player by start.
func FindBars(s Sound, beats []float64, notes []Note, opt Options) Bars {
	m := opt.meter()
	if len(beats) < 2 {
		return Bars{Beats: beats, One: -1}
	}
	if opt.At != nil {
		return barsAt(beats, m, *opt.At, opt.Fixed)
	}
	c := s.candidates(beats, notes, m, opt)
	b := c.best()
	if c.three > threeFrom {
		b.Sure, b.Three = 0, true
	}
	return b
}

// threeFrom is the log odds by which three beats to the bar must be likelier than four.
// On 324 generated takes in four the log odds were 5.6 at most, on 108 in three over 8 on 77.
const threeFrom = 8.0

// candidate are bars found in one of two ways, and how sure each step was.
type candidate struct {
	Bars
	beat, place float64 // probabilities that the beats, and their places in the bar, are right
}

// candidates are the bars found in both ways, and how much of a band there is to hear,
// 0 to 1.
type candidates struct {
	struck, followed candidate
	band             float64
	three            float64 // log odds of three beats to the bar against four, if neither was given
}

// longest is the seconds of a section beyond which grooves are not followed, which
// takes memory by the second.
const longest = 900

func (s Sound) candidates(beats []float64, notes []Note, m int, opt Options) candidates {
	frames, bass := s.band(notes)
	var out candidates
	if !opt.Alone {
		out.band = bandShare(bass)
	}
	if opt.Meter == 0 && out.band > 0 {
		h := s.hear(frames, beats, notes)
		_, four := newModel(4, opt.Key, struckWeights).decide(h, out.band)
		_, three := newModel(3, opt.Key, struckWeights).decide(h, out.band)
		out.three = three - four
	}
	out.struck = s.struckBars(frames, beats, notes, m, out.band, opt)
	if out.band > 0 && m <= lanes && float64(len(s.Kick))*s.DrumHop < longest {
		out.followed = s.followedBars(frames, beats, notes, m, out.band, opt)
	}
	return out
}

// bandShare is how much of a band there is to hear, 0 to 1, by the bass's share.
func bandShare(bass float64) float64 {
	return max(0, min((bass-noBass)/(someBass-noBass), 1))
}

// Rival are bars found in one way, and what the model of their sureness is told of them,
// in the order of [SureNames].
type Rival struct {
	Bars
	Model string
	Told  []float64
}

// doubtful is the log odds up to which the place of agreed bars counts alike.
const doubtful = 2.0

// rivals are the bars that may be the best. Where both ways find the same bars at the
// same tempo, it matters little how sure they were.
func (c candidates) rivals() []Rival {
	s, f := c.struck, c.followed
	switch {
	case len(f.Firsts) == 0:
		return []Rival{c.alone()}
	case agree(s.Bars, f.Bars):
		return []Rival{{f.Bars, Agreed, []float64{max(0, logOdds(f.place)-doubtful)}}}
	}
	return []Rival{
		{f.Bars, SureFollowed, []float64{logOdds(f.beat), logOdds(f.place), logOdds(s.place)}},
		{s.Bars, SureStruck, []float64{logOdds(s.beat), logOdds(s.place), logOdds(f.place)}},
	}
}

// alone are the struck bars, nothing said of the followed ones.
func (c candidates) alone() Rival {
	return Rival{c.struck.Bars, Alone, []float64{logOdds(c.struck.beat), logOdds(c.struck.place)}}
}

// best are the bars of the likelier rival.
func (c candidates) best() Bars {
	var best Bars
	for i, r := range c.rivals() {
		r.Sure = c.band * sureness[r.Model].Probability(r.Told)
		if i == 0 || r.Sure > best.Sure {
			best = r.Bars
		}
	}
	return best
}

// agree tells whether the tempi of bars are the same and at least half of the bar
// lines of b lie within a quarter of a beat of one of a.
func agree(a, b Bars) bool {
	const near, alike = 0.25, 0.02
	if math.Abs(a.beat()/b.beat()-1) > alike {
		return false
	}
	right := 0
	for _, i := range b.Firsts {
		nearby := func(j int) bool { return math.Abs(a.Beats[j]-b.Beats[i]) < near*a.beat() }
		if slices.ContainsFunc(a.Firsts, nearby) {
			right++
		}
	}
	return 2*right >= len(b.Firsts)
}

// beat is the mean length of a beat in seconds.
func (b Bars) beat() float64 {
	n := len(b.Beats)
	if n < 2 {
		return math.NaN()
	}
	return (b.Beats[n-1] - b.Beats[0]) / float64(n-1)
}

// struckBars moves beats by a part of one if drums and chords say so.
func (s Sound) struckBars(
	frames []hidden, beats []float64, notes []Note, m int, band float64, opt Options,
) candidate {
	tried := shifts
	if band == 0 || opt.Fixed {
		tried = shifts[:1]
	}
	model := newModel(m, opt.Key, struckWeights)
	var found []candidate
	var scores, kick, snare []float64
	for _, part := range tried {
		moved := shifted(beats, part)
		places, evidence := model.decide(s.hear(frames, moved, notes), band)
		b := firsts(moved, places)
		found = append(found, candidate{Bars: b, place: b.Sure})
		scores = append(scores, byShift.evidence*evidence)
		kick, snare = append(kick, s.strikes(s.Kick, moved)), append(snare, s.strikes(s.Snare, moved))
	}
	normalize(kick)
	normalize(snare)
	for i := range tried {
		scores[i] += byShift.kick*kick[i] + byShift.snare*snare[i]
	}
	scores[0] += byShift.unshifted
	best, share := topShare(scores)
	found[best].beat = share
	return found[best]
}

// followedBars moves beats to where grooves go on.
func (s Sound) followedBars(
	frames []hidden, beats []float64, notes []Note, m int, band float64, opt Options,
) candidate {
	f := s.followed(frames, beats, notes, m, band, opt)
	if len(f.heard) == 0 {
		return candidate{Bars: Bars{Beats: f.Beats, One: -1}}
	}
	places, _ := newModel(m, opt.Key, followedWeights).decide(f.heard, band)
	out := candidate{Bars: firsts(f.Beats, places), beat: f.sure}
	out.place = out.Sure
	return out
}

// shifts are the parts of a beat by which a player's phrasing may hide the beat.
var shifts = []float64{0, 1. / 3, 1. / 2, 2. / 3}

// shifted moves every beat on by a part of the way to the next.
func shifted(beats []float64, part float64) []float64 {
	out := make([]float64, len(beats))
	for i := range beats {
		j := min(i, len(beats)-2)
		out[i] = beats[i] + part*(beats[j+1]-beats[j])
	}
	return out
}

// logOdds of a probability between 0.001 and 0.999.
func logOdds(p float64) float64 {
	return logistic.Odds(min(max(p, 0.001), 0.999), math.Inf(1))
}

// given stands for beats that are not to be moved: any groove may be played.
func (s Sound) given() (out []path) {
	for i := range fittedGrooves.Grooves {
		out = append(out, path{groove: i})
	}
	return out
}

// likeliest are the paths of the likeliest ratio, the likeliest groove first, and its
// probability; only of beats as they are if they are steady.
func (s Sound) likeliest(
	gs []Groove, a attacks, pauses []bool, beats []float64, steady bool,
) (best []path, sure float64) {
	usual := (beats[len(beats)-1] - beats[0]) / float64(len(beats)-1)
	var tries []try
	outside := 0
	for _, r := range ratios {
		if length := r * usual; r == 1 || !steady && length >= fastestBeat && length <= slowestBeat {
			t := try{ratio: r, length: length, follower: s.follower(beats, pauses, r)}
			tries, outside = append(tries, t), max(outside, t.longestBeat()+1)
		}
	}
	var x scratch
	for i, g := range gs {
		if i == firstLook {
			tries = hopeful(tries, pauses)
		}
		e := x.hear(g, a, outside)
		for k := range tries {
			p := tries[k].follow(e, len(g.Beats), &x)
			p.groove = i
			tries[k].paths = append(tries[k].paths, p)
		}
	}
	var scores []float64
	for _, t := range tries {
		scores = append(scores, t.score(pauses))
	}
	k, share := topShare(scores)
	best = tries[k].paths
	slices.SortStableFunc(best, func(a, b path) int { return cmp.Compare(b.score, a.score) })
	if len(best[0].frames) < 2 {
		return nil, 1
	}
	return best, share
}

// firstLook is how many grooves, the first of the file, are followed at every ratio; the others only at those
// that are no more than hopeless nats below the best.
const (
	firstLook = 2
	hopeless  = 4
)

// try is a ratio of the beats' lengths, the length that it makes in seconds, and what
// was found.
type try struct {
	ratio, length float64
	*follower
	paths []path
}

// hopeful are the tries that may still be the best.
func hopeful(tries []try, pauses []bool) []try {
	top := math.Inf(-1)
	for _, t := range tries {
		top = max(top, t.score(pauses))
	}
	return slices.DeleteFunc(tries, func(t try) bool { return t.ratio != 1 && t.score(pauses) < top-hopeless })
}

// score is how much speaks for the best path of a try.
func (t try) score(pauses []bool) float64 {
	p := slices.MaxFunc(t.paths, func(a, b path) int { return cmp.Compare(a.score, b.score) })
	if len(p.frames) < 2 {
		return math.Inf(-1)
	}
	score := byRatio.path*p.score + tempoPrior(t.length)
	for _, f := range p.frames {
		if !pauses[f] {
			score += byRatio.beat
		}
	}
	if t.ratio == 1 {
		score += byRatio.unmistaken
	}
	return score
}

// topShare is the place of the largest score and its share of the exponentials.
func topShare(scores []float64) (best int, share float64) {
	for i, v := range scores {
		if v > scores[best] {
			best = i
		}
	}
	sum := 0.0
	for _, v := range scores {
		sum += math.Exp(v - scores[best])
	}
	return best, 1 / sum
}

// barsAt counts bars of m beats from a time on, both ways; unless the beats are
// fixed they are moved so that one is then.
func barsAt(beats []float64, m int, at float64, fixed bool) Bars {
	near := 0
	for i, b := range beats {
		if math.Abs(b-at) < math.Abs(beats[near]-at) {
			near = i
		}
	}
	out := Bars{Sure: 1}
	for _, b := range beats {
		if !fixed {
			b += at - beats[near]
		}
		out.Beats = append(out.Beats, b)
	}
	for i := near % m; i < len(beats); i += m {
		out.Firsts = append(out.Firsts, i)
	}
	out.One = near / m
	return out
}

// firsts are the beats whose likeliest place is the first of a bar.
func firsts(beats []float64, places [][]float64) Bars {
	out := Bars{Beats: beats, One: -1}
	for i, p := range places {
		best := 0
		for k := range p {
			if p[k] > p[best] {
				best = k
			}
		}
		if best == 0 {
			out.Firsts, out.Each = append(out.Firsts, i), append(out.Each, p[0])
		}
		out.Sure += p[best] / float64(len(places))
	}
	return out
}
