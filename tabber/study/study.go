// Package study tells what a solo is made of: which notes lean on which chord, in which
// textures, when phrases begin and end, which phrase answers which, which moves come back
// and how it is played.
//
// Plain data goes in, the tabs of one player, and plain data comes out. Nothing is said by
// adjectives. A [Measure] has its number, how much of it chance alone would bring, and how
// often chance brings as much (p), where there is a test:
//
//   - What leans on a chord is held against the same bars under chords dealt out anew: the
//     chords of the bars of a solo are permuted. So are bars of one chorus, textures within
//     a phrase, and phrases of two players. Where many cells are tested at once p is that
//     of the smallest p of them all (Westfall & Young 1993, "Resampling-based multiple
//     testing"); the observed order counts as one of the permutations (Phipson & Smyth
//     2010, "Permutation p-values should never be zero", Stat. Appl. Genet. Mol. Biol. 9).
//   - What phrases end on is held against the notes that they are made of, by the exact
//     law of a sum of unequal chances (Poisson 1837; computed as by Hong 2013, Comput.
//     Stat. Data Anal. 59, section 2.3), with Holm's correction (Holm 1979, Scand. J.
//     Stat. 6).
//   - Which phrase takes up which is held against notes that follow each other as often as
//     they do in this player's solos, for all phrases that were looked at (Bonferroni), and
//     told so that one answer in twenty may be false (Benjamini & Hochberg 1995).
//   - What comes back is found and weighed by package phrasing.
//
// A doubtful event counts with its probability, and so do its other readings. What is in
// none of them is not known: shares are of all sounding time, so that they lack what is
// not known, and a bad transcription gives few findings and not wrong ones.
//
// Of fewer than LeastBars bars nothing is tested or ranked; Summary.Short says so.
package study

import (
	"math"
	"math/rand/v2"

	"blowdraw/tabber/tab"
)

// LeastBars is how many bars a study needs for more than bare counts: a twelve-bar form
// and a third of the next (common practice, no source).
const LeastBars = 16

// Sure is the p below which something is said to be more than chance.
const Sure = 0.05

// Place is where something is heard.
type Place struct {
	Solo int     `json:"solo"` // index of the tab
	From float64 `json:"from"` // seconds from the start of the recording
	To   float64 `json:"to"`
	At   string  `json:"at,omitempty"` // bar and beat such as 5|3; empty without bars
}

// Units of measures.
const (
	Share   = "share"        // of 1
	Beats   = "beats"        //
	Seconds = "s"            //
	Cents   = "cents"        //
	Hz      = "Hz"           //
	Millis  = "ms"           //
	Count   = "count"        //
	Ratio   = "to 1"         //
	PerHund = "in 100 notes" //
	OfOne   = "of 1"         // a place within something, 0 begins and 1 ends it
)

// Measure is one number of a study.
type Measure struct {
	Name     string   `json:"name"`           // such as b3, or [-4 -5]
	Over     string   `json:"over,omitempty"` // a chord, a bar of the form, a hole, ...; empty: the whole
	Value    float64  `json:"value"`
	Unit     string   `json:"unit"`
	Low      *float64 `json:"low,omitempty"` // first quartile
	High     *float64 `json:"high,omitempty"`
	N        float64  `json:"n"`                  // how many it stands on; a doubtful one counts in part
	Expected *float64 `json:"expected,omitempty"` // by chance
	P        *float64 `json:"p,omitempty"`        // chance of a value as far from that; nil: not tested
	Places   []Place  `json:"places,omitempty"`
}

// Beyond reports whether a measure is more, or less, than chance brings.
func (m Measure) Beyond() bool { return m.P != nil && *m.P < Sure }

// Summary is what a study stands on.
type Summary struct {
	Solos      int      `json:"solos"`
	Events     int      `json:"events"`
	Phrases    int      `json:"phrases"`
	Seconds    float64  `json:"seconds"`               // that something sounds
	Known      float64  `json:"known"`                 // share of them that is sure, by probability
	Bars       float64  `json:"bars"`                  // that are played in
	Barred     bool     `json:"barred"`                // they are the tabs' own, not counted by tempo
	Guessed    bool     `json:"guessed"`               // without tempo: of four beats, 100 a minute
	Chords     bool     `json:"chords"`                // known
	Form       string   `json:"form"`                  // of all solos; empty if unknown or not one
	FormBars   int      `json:"form_bars"`             // length of the form
	FormChords []string `json:"form_chords,omitempty"` // of its bars, as they are oftenest
	Choruses   float64  `json:"choruses"`              // times through the form
	Measured   bool     `json:"measured"`              // pitches and marks were measured, not only written down
	Short      bool     `json:"short"`                 // fewer than LeastBars bars
}

// Study is what solos by one player are made of.
type Study struct {
	Summary  Summary  `json:"summary"`
	Notes    Notes    `json:"notes"`
	Textures Textures `json:"textures"`
	Time     Time     `json:"time"`
	Answers  []Answer `json:"answers"`
	Moves    []Move   `json:"moves"`
	Playing  Playing  `json:"playing"`
}

// Of studies the tabs of one player.
func Of(tabs []tab.Document) Study {
	solos := soundsOf(tabs)
	s := Study{Summary: summary(solos)}
	short := s.Summary.Short
	s.Notes = notes(solos, s.Summary)
	s.Textures = textures(solos, s.Summary)
	s.Time = timing(solos, s.Summary)
	s.Answers = []Answer{}
	s.Moves = []Move{}
	if !short {
		s.Answers = answers(solos)
		s.Moves = moves(solos, s.Summary)
	}
	s.Playing = playing(solos, short)
	return s
}

// draws are the random numbers of one test, the same for the same solos.
func draws(test uint64) *rand.Rand { return rand.New(rand.NewPCG(test, 1)) }

// given is a pointer to a number, rounded so that it reads well.
func given(v float64) *float64 {
	v = tidy(v)
	return &v
}

// tidy rounds to six decimals: more are of no use to a reader.
func tidy(v float64) float64 { return math.Round(1e6*v)/1e6 + 0 }
