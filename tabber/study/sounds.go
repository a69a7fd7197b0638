package study

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"blowdraw/onset/form"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

// reading is one way to read an event, with its probability.
type reading struct {
	p       float64
	actions []harp.Action // none for a sound that the harp cannot play
	degrees []int         // semitones over the tonic, 0 to 11, each once
	texture string        // one of the names in textures.go
}

// sound is an event as a study counts it.
type sound struct {
	tab.Event
	solo, index int       // index: of the event in its tab
	from        float64   // Start, or the place in the bar that it means if it starts a little early
	readings    []reading // the written one first
	phrase      int       // index of its phrase among those of its solo
	chord       string    // that most of it lies over, as a class; empty if unknown
	place       Place
}

// known is the probability that one of the readings is right.
func (s sound) known() float64 {
	sum := 0.0
	for _, r := range s.readings {
		sum += r.p
	}
	return sum
}

func (s sound) seconds() float64 { return s.End - s.Start }

// share is the part of a sound that is of a degree: by probability, and of several
// degrees that sound at once each has an equal part.
func (s sound) share(degree int) float64 {
	sum := 0.0
	for _, r := range s.readings {
		if slices.Contains(r.degrees, degree) {
			sum += r.p / float64(len(r.degrees))
		}
	}
	return sum
}

// bar is a bar of a solo.
type bar struct {
	number   int
	from, to float64
	chords   []string // that share it equally, as classes; none if unknown
	inForm   int      // which bar of the form, from 1; 0 if unknown
	chorus   int      // which time through the form, from 0
}

// solo is a tab as a study counts it.
type solo struct {
	tab.Document
	number  int // of the tab, from 0
	sounds  []sound
	phrases []span // indices of sounds, from and to (exclusive)
	bars    []bar
	length  int // bars of the form; 0 if unknown
}

type span struct{ from, to int }

func soundsOf(tabs []tab.Document) []solo {
	out := make([]solo, len(tabs))
	for i, d := range tabs {
		out[i] = soloOf(i, d)
	}
	return out
}

func soloOf(number int, d tab.Document) solo {
	s := solo{Document: d, number: number, length: formLength(d)}
	s.bars = barsOf(d, s.length)
	for _, group := range phrasing.Groups(d) {
		p := span{from: len(s.sounds)}
		for _, i := range group {
			x := soundOf(d, i)
			x.solo, x.place.Solo, x.phrase = number, number, len(s.phrases)
			x.chord = s.chordUnder(x.from, x.End)
			s.sounds = append(s.sounds, x)
		}
		p.to = len(s.sounds)
		s.phrases = append(s.phrases, p)
	}
	return s
}

func soundOf(d tab.Document, i int) sound {
	e := d.Events[i]
	x := sound{Event: e, index: i, from: e.Start, place: placeOf(d, e.Start, e.End)}
	if p, ok := d.PlaceAt(e.Start); ok {
		if at, ok := d.TimeAt(p); ok && at < e.End {
			x.from = max(e.Start, at)
		}
	}
	written := reading{p: e.Confidence, actions: e.Actions, degrees: degreesOf(d, d.Sounding(e))}
	written.texture = textureOf(d, e.Actions, len(written.degrees))
	if _, bleeds := e.Mark(tab.Bleed); bleeds && written.texture == Double {
		written.texture = Bleed
	}
	x.readings = append(x.readings, written)
	for _, a := range e.Alternatives {
		if len(a.Actions) == 0 || len(e.Actions) == 0 {
			continue
		}
		r := reading{p: a.Confidence, actions: a.Actions}
		r.degrees = degreesOf(d, d.Sounding(tab.Event{Actions: a.Actions}))
		r.texture = textureOf(d, a.Actions, len(r.degrees))
		x.readings = append(x.readings, r)
	}
	if all := x.known(); all > 1 {
		for k := range x.readings {
			x.readings[k].p /= all
		}
	}
	return x
}

func placeOf(d tab.Document, from, to float64) Place {
	return Place{From: tab.Rounded(from), To: tab.Rounded(to), At: d.PlaceText(from)}
}

// degreesOf notes in the key of the song, each once, lowest note first.
func degreesOf(d tab.Document, notes []int) []int {
	var out []int
	for _, m := range notes {
		if n := harp.PitchClass(m - d.SongKey); !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// formLength is how many bars the form of a tab has; 0 if it is not known.
func formLength(d tab.Document) int {
	for _, f := range form.Forms() {
		if f.Name == d.Form {
			return f.Bars()
		}
	}
	return 0
}

func barsOf(d tab.Document, length int) []bar {
	var out []bar
	for _, b := range d.Bars {
		end, ok := d.TimeAt(tab.Place{Bar: b.Number + 1, Beat: 1})
		if !ok {
			continue
		}
		x := bar{number: b.Number, from: tab.Rounded(b.Start), to: end, chords: classes(b.Chord)}
		if length > 0 { // bar 1 begins the form
			x.inForm = ((b.Number-1)%length+length)%length + 1
			x.chorus = (b.Number - x.inForm) / length
		}
		out = append(out, x)
	}
	return out
}

// chordNames are the chords by their root, in semitones over the tonic.
var chordNames = [12]string{"I", "bII", "II", "bIII", "III", "IV", "bV", "V", "bVI", "VI", "bVII", "VII"}

// classes of the chords of a bar: by root alone, so that I and I7 are one.
func classes(chord string) []string {
	var out []string
	for _, word := range strings.Fields(chord) {
		root, ok := tab.ChordRoot(word)
		if !ok {
			return nil
		}
		out = append(out, chordNames[root])
	}
	return out
}

// chordList are the chords of all solos: I, IV and V first, others by root.
func chordList(solos []solo) []string {
	seen := map[string]bool{}
	for _, s := range solos {
		for _, b := range s.bars {
			for _, c := range b.chords {
				seen[c] = true
			}
		}
	}
	var out []string
	for _, c := range append([]string{"I", "IV", "V"}, chordNames[:]...) {
		if seen[c] {
			out = append(out, c)
			seen[c] = false
		}
	}
	return out
}

// chordUnder is the chord that most of the time from one second to another lies over.
func (s solo) chordUnder(from, to float64) string {
	seconds := map[string]float64{}
	best := ""
	first, _ := slices.BinarySearchFunc(s.bars, from, func(b bar, t float64) int { return compare(b.to, t) })
	for _, b := range s.bars[first:] {
		if b.from >= to {
			break
		}
		for k, c := range b.chords {
			long := (b.to - b.from) / float64(len(b.chords))
			begin := b.from + float64(k)*long
			seconds[c] += max(0, min(to, begin+long)-max(from, begin))
			if seconds[c] > seconds[best] {
				best = c
			}
		}
	}
	return best
}

// barAt is the bar that a time lies in.
func (s solo) barAt(t float64) (bar, bool) {
	i, _ := slices.BinarySearchFunc(s.bars, t, func(b bar, t float64) int {
		if b.from <= t+0.0005 {
			return -1
		}
		return 1
	})
	if i == 0 || t >= s.bars[i-1].to+0.0005 {
		return bar{}, false
	}
	return s.bars[i-1], true
}

// phrasePlace is where a phrase of a solo is heard.
func (s solo) phrasePlace(p span) Place {
	x := s.sounds[p.from].place
	x.To = s.sounds[p.to-1].place.To
	return x
}

func summary(solos []solo) Summary {
	out := Summary{Solos: len(solos), Barred: true}
	for i, s := range solos {
		out.Events += len(s.sounds)
		out.Phrases += len(s.phrases)
		for _, x := range s.sounds {
			out.Seconds += x.seconds()
			out.Known += x.seconds() * x.readings[0].p
			out.Measured = out.Measured || measured(s.Document, x)
		}
		if len(s.bars) == 0 {
			out.Barred = false
		}
		bars, guessed := barsPlayed(s)
		out.Bars += bars
		out.Guessed = out.Guessed || guessed
		if i == 0 {
			out.Form, out.FormBars = s.Form, s.length
		} else if out.Form != s.Form {
			out.Form, out.FormBars = "", 0
		}
	}
	out.Chords = len(chordList(solos)) > 1
	if out.Seconds > 0 {
		out.Known = tidy(out.Known / out.Seconds)
	}
	if out.FormBars > 0 {
		out.Choruses = tidy(out.Bars / float64(out.FormBars))
		out.FormChords = formChords(solos, out.FormBars)
	}
	out.Bars, out.Seconds = tidy(out.Bars), tidy(out.Seconds)
	out.Short = out.Bars < LeastBars
	return out
}

// formChords are the chords of the bars of the form, as most choruses have them.
func formChords(solos []solo, bars int) []string {
	counts := make([]map[string]int, bars)
	out := make([]string, bars)
	for _, s := range solos {
		for _, b := range s.bars {
			k := b.inForm - 1
			if counts[k] == nil {
				counts[k] = map[string]int{}
			}
			name := strings.Join(b.chords, " ")
			if counts[k][name]++; counts[k][name] > counts[k][out[k]] {
				out[k] = name
			}
		}
	}
	return out
}

// usual is the tempo in beats a minute of a tab that names none.
const usual = 100.0

// barsPlayed is how many bars are touched from the first event to the last; without bar
// lines, how many lie between them.
func barsPlayed(s solo) (bars float64, guessed bool) {
	if len(s.sounds) == 0 {
		return 0, false
	}
	from, to := s.sounds[0].Start, 0.0
	for _, x := range s.sounds {
		to = max(to, x.End)
	}
	a, ok := s.BeatAt(from)
	b, _ := s.BeatAt(to)
	if !ok {
		return (to - from) * usual / 60 / 4, true
	}
	per := float64(s.BeatsInBar())
	if len(s.bars) > 0 {
		const little = 0.25 // beats by which a note may begin early or end late
		return math.Ceil((b-little)/per) - math.Floor((a+little)/per), false
	}
	return (b - a) / per, false
}

// measured reports whether something of how a sound was heard is known beyond what a tab
// has in writing.
func measured(d tab.Document, x sound) bool {
	for _, m := range x.Marks {
		if m.Hz > 0 || m.Seconds > 0 || m.Confidence > 0 {
			return true
		}
	}
	for i, a := range x.Actions {
		if i < len(x.Pitches) && math.Abs(x.Pitches[i]-d.TuningCents/100-float64(d.Harp.MIDI(a))) > 0.001 {
			return true
		}
	}
	return false
}

// most is how many places a measure names.
const most = 12

// longest places of those given, by how much of each counts, in the order of time.
type weighed struct {
	Place
	weight float64
}

func longest(list []weighed) []Place {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b weighed) int { return cmp.Compare(b.weight, a.weight) })
	if len(list) > most {
		list = list[:most]
	}
	var out []Place
	for _, w := range list {
		out = append(out, w.Place)
	}
	slices.SortStableFunc(out, func(a, b Place) int {
		return cmp.Or(cmp.Compare(a.Solo, b.Solo), cmp.Compare(a.From, b.From))
	})
	return out
}
