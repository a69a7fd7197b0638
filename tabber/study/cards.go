package study

import (
	"math"
	"slices"
	"strings"

	"blowdraw/onset/form"
	"blowdraw/tabber/tab"
)

// Main is the time of a move that shows it best: of its oftenest form the one whose notes
// are surest, and of those the first.
func Main(tabs []tab.Document, m Move) Played {
	best, most := m.Times[0], -1.0
	for _, t := range m.Times {
		if t.Tab != m.Tab {
			continue
		}
		sure := 0.0
		for _, e := range tabs[t.Solo].Events[t.First:t.Last] {
			sure += e.Confidence / float64(t.Last-t.First)
		}
		if sure > most+1e-9 {
			best, most = t, sure
		}
	}
	return best
}

// Excerpt is the part of a tab in which a move is played, at its times in the recording,
// with the bars that it touches.
func Excerpt(d tab.Document, t Played) tab.Document {
	out := d
	out.Events = slices.Clone(d.Events[t.First:t.Last])
	out.Remarks, out.Notes, out.Other = nil, nil, nil
	out.From, out.To = out.Events[0].Start, 0
	for _, e := range out.Events {
		out.To = max(out.To, e.End)
	}
	out.Phrases = []tab.Phrase{{Start: out.From, End: out.To}}
	out.Bars = nil
	first, ok := d.PlaceAt(out.From)
	if !ok {
		return out
	}
	for _, b := range d.Bars { // and the bar line after it, which tells how long its last bar is
		if n := len(out.Bars); b.Number >= first.Bar && (n == 0 || out.Bars[n-1].Start < out.To) {
			out.Bars = append(out.Bars, b)
		}
	}
	if len(out.Bars) > 0 {
		out.From = min(out.From, out.Bars[0].Start)
	}
	return out
}

// freeBars is how many bars an exercise has where the form is not known, and every how
// many of them the move is played.
const (
	freeBars  = 8
	freeEvery = 2
)

// Exercise is once through the form, at the tempo of the tab, with a move at each place of
// the form where the player begins it; without a form the move comes every other bar. The
// move is that of a time t of tab d; times are all times of the move. The exercise begins
// with an empty bar to count in, which is bar 0.
func Exercise(d tab.Document, t Played, times []Played) tab.Document {
	bpm := d.BPM
	if bpm <= 0 {
		bpm = usual
	}
	beat := 60 / bpm
	per := d.BeatsInBar()
	out := tab.Document{
		Harp: d.Harp, SongKey: d.SongKey, Minor: d.Minor, BPM: bpm, Meter: d.Meter, Channel: "mix",
	}
	out.TuningCents = 0
	bars, chords := freeBars, []string(nil)
	starts := placesOf(d, t, times)
	if f, ok := formOf(d); ok && len(starts) > 0 {
		bars, chords, out.Form = f.Bars(), f.At(f.Bars(), 0).Chords, d.Form
	} else {
		starts = nil
		for k := 0; k < freeBars; k += freeEvery {
			starts = append(starts, float64(k*per)+offset(d, t))
		}
	}
	at := func(beats float64) float64 { return (beats + float64(per)) * beat }
	out.Bars = append(out.Bars, tab.Bar{Number: 0})
	for k := range bars {
		b := tab.Bar{Number: k + 1, Start: tab.Rounded(at(float64(k * per)))}
		if chords != nil {
			b.Chord = chords[k]
		}
		out.Bars = append(out.Bars, b)
	}
	out.To = at(float64(bars * per))
	end := math.Inf(-1)
	for _, start := range starts {
		from := at(start)
		if from < end || from < 0 {
			continue // the one before still sounds
		}
		for _, e := range d.Events[t.First:t.Last] {
			e.Start = tab.Rounded(from + beatsFrom(d, t.From, e.Start)*beat)
			e.End = tab.Rounded(from + beatsFrom(d, t.From, e.End)*beat)
			e.Line, e.Comment, e.Alternatives = 0, "", nil
			e.Confidence = 1 // it is what to play, not what was heard
			out.Events = append(out.Events, e)
			end = e.End
		}
		out.Phrases = append(out.Phrases, tab.Phrase{Start: from, End: end})
	}
	out.To = max(out.To, end)
	return out
}

// beatsFrom one time to another, at the tempo of the tab there.
func beatsFrom(d tab.Document, from, to float64) float64 {
	a, ok := d.BeatAt(from)
	b, _ := d.BeatAt(to)
	if !ok {
		return (to - from) * usual / 60
	}
	return b - a
}

func formOf(d tab.Document) (form.Form, bool) {
	all := form.Forms()
	i := slices.IndexFunc(all, func(f form.Form) bool { return f.Name == d.Form })
	if i < 0 || len(d.Bars) == 0 {
		return form.Form{}, false
	}
	return all[i], true
}

// placesOf are the beats of the form, from 0, at which a move begins, each once.
func placesOf(d tab.Document, t Played, times []Played) []float64 {
	var out []float64
	for _, x := range times {
		if x.InForm == 0 {
			continue
		}
		start := float64((x.InForm-1)*d.BeatsInBar()) + offset(d, t)
		if !slices.Contains(out, start) {
			out = append(out, start)
		}
	}
	slices.Sort(out)
	return out
}

// offset is how many beats into its bar a time begins, by the place that it is written at.
func offset(d tab.Document, t Played) float64 {
	p, ok := d.PlaceAt(t.From)
	if !ok {
		return 0
	}
	return float64(p.Beat-1) + float64(p.Twelfths)/12
}

// Slug is a name for the files of a move, of lower-case letters, digits and dashes.
func Slug(m Move) string {
	var b strings.Builder
	for _, r := range strings.ToLower(m.Name) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case r == ' ':
			b.WriteByte('-')
		}
	}
	return b.String()
}
