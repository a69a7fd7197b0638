// Package solos makes tabs of solos whose vocabulary is known: which degrees lean on which
// chord, in which bars of the form neighbours sound together, which moves come back and
// where. What is not planted is drawn at random.
package solos

import (
	"math"
	"math/rand/v2"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Player is what is planted. The zero Player plays at random.
type Player struct {
	Lean  []Lean
	Rough []Rough
	Moves []Move
	// Answers is the chance that a phrase begins as the one before it.
	Answers float64
	// Doubt, 0 to 1, is how much of the probability of every event goes to another reading.
	Doubt float64
}

// Lean makes a degree so many times likelier over a chord.
type Lean struct {
	Chord  string
	Degree string
	Times  float64
}

// Rough plays double stops with a chance in the bars of the form, from 1.
type Rough struct {
	Bars   []int
	Chance float64
}

// Move is a line that is played in the given bars of the form, with a chance.
type Move struct {
	Notes  []string  // tokens
	Beats  []float64 // when each begins, from the first beat of the bar
	Bars   []int
	Chance float64
}

// Kit is what a solo is played on.
type Kit struct {
	Harp     string // key
	Position int
	BPM      float64
	Choruses int // of twelve bars
}

const barBeats = 4

// chords of the twelve-bar form.
var chords = []string{"I", "I", "I", "I", "IV", "IV", "I", "I", "V", "IV", "I", "V"}

// Solo plays a solo. The same seed gives the same solo.
func Solo(seed uint64, kit Kit, p Player) (tab.Document, error) {
	l, err := harp.ParseLayout("richter")
	if err != nil {
		return tab.Document{}, err
	}
	h, err := harp.Parse(kit.Harp, l)
	if err != nil {
		return tab.Document{}, err
	}
	s := soloist{
		rng: rand.New(rand.NewPCG(seed, 28)), beat: 60 / kit.BPM, Player: p,
		doc: tab.Document{
			Harp: h, SongKey: harp.SongKey(h.Key(), kit.Position), BPM: kit.BPM, Meter: "4/4",
			Form: "twelve-bar", Recording: "made.wav",
		},
	}
	s.pool = s.vocabulary()
	s.at = s.rng.IntN(len(s.pool))
	for i := range kit.Choruses * len(chords) {
		bar := tab.Bar{Number: i + 1, Start: start + float64(i*barBeats)*s.beat, Chord: chords[i%len(chords)]}
		s.doc.Bars = append(s.doc.Bars, bar)
	}
	s.doc.To = start + float64(kit.Choruses*len(chords)*barBeats)*s.beat
	s.play(kit.Choruses * len(chords))
	s.phrases()
	return s.doc, nil
}

// start is when bar 1 begins, in seconds.
const start = 1.0

type soloist struct {
	Player
	rng    *rand.Rand
	doc    tab.Document
	beat   float64
	pool   []harp.Action
	at     int // in the pool
	opened []harp.Action
}

// vocabulary are the single notes of the blues and the mixolydian scale in the song's key
// up to hole 6 and on the blow reeds above it, by pitch, each pitch once.
func (s *soloist) vocabulary() []harp.Action {
	var out []harp.Action
	for _, a := range s.doc.Harp.Actions(false) {
		degree := harp.Degree(s.doc.Harp.MIDI(a), s.doc.SongKey)
		if a.Hole > 8 || !slices.Contains([]string{"1", "2", "b3", "3", "4", "b5", "5", "6", "b7"}, degree) {
			continue
		}
		if !slices.ContainsFunc(out, func(b harp.Action) bool { return s.doc.Harp.MIDI(a) == s.doc.Harp.MIDI(b) }) {
			out = append(out, a)
		}
	}
	slices.SortFunc(out, func(a, b harp.Action) int { return s.doc.Harp.MIDI(a) - s.doc.Harp.MIDI(b) })
	return out
}

// play bars, phrase by phrase: some notes, then a rest of at least a beat. A planted move
// is a phrase of its own and fills its bar.
func (s *soloist) play(bars int) {
	end := float64(bars * barBeats)
	for beat := 0.0; beat < end-1; {
		if b := int(beat) / barBeats; beat == float64(b*barBeats) {
			if m, ok := s.move(b); ok {
				s.quote(m, beat)
				beat += barBeats
				continue
			}
		}
		beat = s.phrase(beat, end)
	}
}

// move is the move that is due in a bar.
func (s *soloist) move(bar int) (Move, bool) {
	for _, m := range s.Moves {
		if slices.Contains(m.Bars, bar%len(chords)+1) && s.rng.Float64() < m.Chance {
			return m, true
		}
	}
	return Move{}, false
}

func (s *soloist) quote(m Move, beat float64) {
	for i, token := range m.Notes {
		actions, err := tab.ParseToken(s.doc.Harp, token)
		if err != nil {
			panic(err) // a move that the harp does not have
		}
		end := m.Beats[i] + 0.5
		if i+1 < len(m.Beats) {
			end = m.Beats[i+1]
		}
		s.add(actions, beat+m.Beats[i], beat+min(end, 3))
	}
}

// quoted is how many notes of a phrase its answer takes up.
const quoted = 5

// phrase plays three to eight notes from a beat on and returns where the next may begin.
// It stops in time for a bar that has a move.
func (s *soloist) phrase(beat, end float64) float64 {
	var played []harp.Action
	answering := len(s.opened) >= quoted && s.rng.Float64() < s.Answers
	for i := range 3 + s.rng.IntN(6) {
		length := []float64{1. / 3, 2. / 3, 1, 1, 2}[s.rng.IntN(5)]
		if s.reserved(beat, beat+length+1) || beat+length > end {
			break
		}
		bar := int(beat+1e-9) / barBeats
		a := s.next(chords[bar%len(chords)])
		if answering && i < quoted {
			a = s.opened[i]
			s.at = slices.Index(s.pool, a)
		}
		played = append(played, a)
		s.add(s.thicken(a, bar), beat, beat+length)
		beat += length
	}
	if len(played) >= quoted {
		s.opened = played
	}
	rest := 1 + float64(s.rng.IntN(7))/3
	next := beat + rest
	// A move begins on the one.
	for b := math.Ceil(beat/barBeats - 1e-9); b*barBeats <= next+1e-9; b++ {
		if s.due(int(b)) {
			return b * barBeats
		}
	}
	return math.Round(next*3) / 3
}

// reserved reports whether a bar that has a move begins between two beats.
func (s *soloist) reserved(from, to float64) bool {
	for b := math.Floor(from/barBeats) + 1; b*barBeats < to; b++ {
		if s.due(int(b)) {
			return true
		}
	}
	return false
}

func (s *soloist) due(bar int) bool {
	return slices.ContainsFunc(s.Moves, func(m Move) bool { return slices.Contains(m.Bars, bar%len(chords)+1) })
}

// next steps to a note nearby; over its chord a leaning degree is so many times likelier.
func (s *soloist) next(chord string) harp.Action {
	weights := make([]float64, len(s.pool))
	all := 0.0
	for i, a := range s.pool {
		away := math.Abs(float64(i - s.at))
		weights[i] = math.Exp(-away / 2)
		if i == s.at {
			weights[i] = 0.3
		}
		for _, l := range s.Lean {
			if l.Chord == chord && harp.Degree(s.doc.Harp.MIDI(a), s.doc.SongKey) == l.Degree {
				weights[i] *= l.Times
			}
		}
		all += weights[i]
	}
	u := s.rng.Float64() * all
	for i, w := range weights {
		if u -= w; u < 0 || i == len(weights)-1 {
			s.at = i
			break
		}
	}
	return s.pool[s.at]
}

// thicken adds the neighbour above in bars where the player is rough.
func (s *soloist) thicken(a harp.Action, bar int) []harp.Action {
	for _, r := range s.Rough {
		if slices.Contains(r.Bars, bar%len(chords)+1) && a.Bend == 0 && a.Hole < s.doc.Harp.Layout.Holes() &&
			s.rng.Float64() < r.Chance {
			return []harp.Action{a, {Breath: a.Breath, Hole: a.Hole + 1}}
		}
	}
	return []harp.Action{a}
}

// add an event from one beat to another, up to 15 ms late or early.
func (s *soloist) add(a []harp.Action, from, to float64) {
	off := (s.rng.Float64() - 0.5) * 0.03
	e := tab.Event{
		Start: tab.Rounded(start + from*s.beat + off), End: tab.Rounded(start + to*s.beat - 0.02),
		Actions: a, Texture: tab.Texture(a), Confidence: 1,
	}
	for _, x := range a {
		e.Pitches = append(e.Pitches, float64(s.doc.Harp.MIDI(x)))
	}
	if s.Doubt > 0 {
		other := s.pool[s.rng.IntN(len(s.pool))]
		e.Confidence = 1 - s.Doubt
		e.Alternatives = []tab.Alternative{{Actions: []harp.Action{other}, Confidence: s.Doubt / 2}}
		if s.rng.Float64() < s.Doubt { // the wrong one is written
			e.Actions = []harp.Action{other}
			e.Texture = tab.Single
			e.Pitches = []float64{float64(s.doc.Harp.MIDI(other))}
			e.Alternatives[0].Actions = a
		}
	}
	s.doc.Events = append(s.doc.Events, e)
}

// phrases part where nothing sounds for more than 0.7 of a beat.
func (s *soloist) phrases() {
	for i, e := range s.doc.Events {
		n := len(s.doc.Phrases)
		if i > 0 && e.Start-s.doc.Events[i-1].End < 0.7*s.beat {
			s.doc.Phrases[n-1].End = e.End
			continue
		}
		s.doc.Phrases = append(s.doc.Phrases, tab.Phrase{Start: e.Start, End: e.End})
	}
}
