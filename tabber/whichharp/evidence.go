package whichharp

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// mostTold is how many things of one kind are told.
const mostTold = 3

var degreeWords = map[string]string{
	"1": "root", "b2": "flat second", "2": "second", "b3": "flat third", "3": "third", "4": "fourth", "b5": "flat fifth",
	"5": "fifth", "b6": "flat sixth", "6": "sixth", "b7": "flat seventh", "7": "seventh",
}

// degree of a note in the song's key, in words.
func degree(midi, songKey int) string { return degreeWords[harp.Degree(midi, songKey)] }

// Evidence says in players' words what speaks for the harp, and what against
// rival, the next likeliest: bends, splits and chords, where the music rests, and
// which notes either lacks. The latter is nil if there is no rival.
func (c Candidate) Evidence(rival *Candidate) []string {
	var out []string
	for _, kind := range []func(tab.Event) string{c.bendWords, c.splitWords, c.chordWords} {
		out = append(out, commonestWords(c.Fit.Events, kind)...)
	}
	if rest := c.restWords(); rest != "" {
		out = append(out, rest)
	}
	out = append(out, lacking("This harp", c.Harp, c))
	if rival != nil {
		out = append(out, lacking("The "+rivalName(c.Harp, rival.Harp), rival.Harp, c))
	}
	return out
}

// rivalName tells a harp from another: "D harp", "country A harp".
func rivalName(h, rival harp.Harp) string {
	if rival.Layout.Equal(h.Layout) {
		return rival.Name + " harp"
	}
	return rival.Layout.Name + " " + rival.Name + " harp"
}

// commonestWords are those that kind says of the most events, with how often.
func commonestWords(events []tab.Event, kind func(tab.Event) string) []string {
	count := map[string]int{}
	var words []string
	for _, e := range events {
		if w := kind(e); w != "" {
			if count[w] == 0 {
				words = append(words, w)
			}
			count[w]++
		}
	}
	slices.SortStableFunc(words, func(a, b string) int { return cmp.Compare(count[b], count[a]) })
	var out []string
	for _, w := range words[:min(mostTold, len(words))] {
		out = append(out, w+" "+times(count[w]))
	}
	return out
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// bendWords: "the flat third is draw 3 bent a half step".
func (c Candidate) bendWords(e tab.Event) string {
	if len(e.Actions) != 1 || e.Actions[0].Bend <= 0 {
		return ""
	}
	a := e.Actions[0]
	return fmt.Sprintf(
		"the %s is %s %d bent %s:",
		degree(c.Harp.MIDI(a), c.SongKey()),
		a.Breath,
		a.Hole,
		steps(a.Bend),
	)
}

func steps(semitones int) string {
	switch semitones {
	case 1:
		return "a half step"
	case 2:
		return "a whole step"
	}
	return fmt.Sprintf("%d half steps", semitones)
}

// splitWords: "an octave on the fifth is draw 1+4".
func (c Candidate) splitWords(e tab.Event) string {
	if e.Texture != tab.Split {
		return ""
	}
	low, high := e.Actions[0], e.Actions[1]
	interval := harp.Interval(c.Harp.MIDI(high) - c.Harp.MIDI(low))
	return fmt.Sprintf(
		"%s %s on the %s is %s %d+%d:",
		article(interval),
		interval,
		degree(c.Harp.MIDI(low), c.SongKey()),
		low.Breath,
		low.Hole,
		high.Hole,
	)
}

func article(word string) string {
	if strings.ContainsAny(word[:1], "aeiou") {
		return "an"
	}
	return "a"
}

// chordWords: "holes 1 2 3 draw sound together".
func (c Candidate) chordWords(e tab.Event) string {
	if e.Texture != tab.Chord && e.Texture != tab.Double {
		return ""
	}
	holes := ""
	for _, a := range e.Actions {
		if a.Bend != 0 {
			return ""
		}
		holes += fmt.Sprintf(" %d", a.Hole)
	}
	return fmt.Sprintf("%s%s sound together:", e.Actions[0].Breath, holes)
}

// restWords: where the single notes last longest.
func (c Candidate) restWords() string {
	seconds := map[harp.Action]float64{}
	var best harp.Action
	for _, e := range c.Fit.Events {
		if len(e.Actions) != 1 {
			continue
		}
		a := e.Actions[0]
		seconds[a] += e.End - e.Start
		if seconds[a] > seconds[best] {
			best = a
		}
	}
	if best.Hole == 0 {
		return ""
	}
	bent := ""
	if best.Bend > 0 {
		bent = " bent " + steps(best.Bend)
	}
	return fmt.Sprintf(
		"the music rests longest on %s %d%s, the %s",
		best.Breath,
		best.Hole,
		bent,
		degree(c.Harp.MIDI(best), c.SongKey()),
	)
}

// lacking says how many of the notes heard for c the harp h does not have.
func lacking(name string, h harp.Harp, c Candidate) string {
	missing, bent, all := 0, 0, 0
	for _, e := range c.Fit.Events {
		for _, p := range e.Pitches {
			all++
			at := h.At(int(math.Round(p-c.Fit.Tuning.Cents/100)), false)
			switch {
			case len(at) == 0:
				missing++
			case !slices.ContainsFunc(at, func(a harp.Action) bool { return a.Bend == 0 }):
				bent++
			}
		}
	}
	by := fmt.Sprintf("%d", bent)
	if bent == 0 {
		by = "none"
	}
	switch missing {
	case 0:
		return fmt.Sprintf("%s has all %d notes, %s by bending", name, all, by)
	case 1:
		return fmt.Sprintf("%s lacks 1 note of %d, and has %s by bending", name, all, by)
	}
	return fmt.Sprintf("%s lacks %d notes of %d, and has %s by bending", name, missing, all, by)
}
