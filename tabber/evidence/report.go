package evidence

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/pitch/partials"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// Look is what there is to see of one event: a heading, and where more than one reed
// is in question the evidence for each.
type Look struct {
	Start, End float64 // seconds
	Heading    string
	Reeds      []Reed // lowest first; fewer than two where nothing else is in question
	Words      []string
	Spectrum   Spectrum
}

// inQuestion is the probability from which the runner-up is looked at, too.
const inQuestion = 0.05

// Looks at the events of a passage of a clip.
func Looks(h harp.Harp, c decode.Clip, p reading.Passage) []Look {
	var out []Look
	for _, e := range p.Events {
		l := Look{Start: e.Start, End: e.End, Heading: heading(h, e)}
		reeds := union(h, e.Answers)
		if len(reeds) > 1 {
			var names []string
			var hz []float64
			for _, a := range reeds {
				names = append(names, tab.Token([]harp.Action{a}))
				hz = append(hz, sounding(h, e, a, p.Cents))
			}
			l.Reeds, l.Spectrum = Measure(c, e.Start, e.End, names, hz)
			var tone *partials.Tone
			if t, ok := partials.Measure(cut(c, e.Start+speaking, e.End), hz[0]); ok {
				tone = &t
			}
			l.Words = Words(l.Reeds, tone, p.Usual)
		}
		out = append(out, l)
	}
	return out
}

// heading is an event's tab and what it may be, likeliest first. The first two
// readings come with their holes and interval.
func heading(h harp.Harp, e reading.Textured) string {
	var parts []string
	for i, r := range e.Answers {
		kind := Kind(h, r.Texture, nil)
		if i < 2 && r.Actions != nil {
			kind = Kind(h, r.Texture, r.Actions) + " " + tab.Token(r.Actions)
		}
		parts = append(parts, fmt.Sprintf("%s %.0f%%", kind, 100*r.Probability))
	}
	return strings.Join(parts, "; ")
}

// union is the reeds of the likeliest reading, and of the runner-up if it is in
// question, from low to high.
func union(h harp.Harp, readings []reading.Answer) []harp.Action {
	var out []harp.Action
	for i, r := range readings[:2] {
		for _, a := range r.Actions {
			if (i == 0 || r.Probability >= inQuestion) && !slices.Contains(out, a) {
				out = append(out, a)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b harp.Action) int { return cmp.Compare(h.MIDI(a), h.MIDI(b)) })
	return out
}

// sounding is the frequency in Hz of a reed: as measured, or as the harp has it after
// the recording's tuning.
func sounding(h harp.Harp, e reading.Textured, a harp.Action, cents float64) float64 {
	for i, b := range e.Actions {
		if a == b && i < len(e.Pitches) {
			return pitch.MIDIToHz(e.Pitches[i])
		}
	}
	return pitch.MIDIToHz(float64(h.MIDI(a)) + cents/100)
}

// AloneLooks at sounds whose harp is not known.
func AloneLooks(c decode.Clip, sounds []Sound, usual float64) []Look {
	var out []Look
	for _, s := range sounds {
		midi := pitch.HzToMIDI(s.Hz)
		l := Look{
			Start:   s.Start,
			End:     s.End,
			Heading: fmt.Sprintf("%s, octave %.0f%%, one reed %.0f%%", noteText(midi), 100*s.Octave, 100*(1-s.Octave)),
		}
		if s.Octave < 0.5 {
			l.Heading = fmt.Sprintf(
				"%s, one reed %.0f%%, octave %.0f%%",
				noteText(midi),
				100*(1-s.Octave),
				100*s.Octave,
			)
		}
		if s.Octave >= inQuestion {
			l.Reeds, l.Spectrum = Measure(c, s.Start, s.End, []string{"low", "high"}, []float64{s.Hz, 2 * s.Hz})
			l.Words = Words(l.Reeds, &s.Tone, usual)
		}
		out = append(out, l)
	}
	return out
}

// noteText names a pitch by the nearest note, such as A4 (C4 is middle C), in sharps
// where keys have them.
func noteText(midi float64) string {
	n := int(midi + 0.5)
	return fmt.Sprintf("%s%d", harp.KeyName(n%12), n/12-1)
}

// WriteText writes the looks: a line for each event, and below it evidence and ladder
// where more than one reed is in question. Clock writes seconds.
func WriteText(w io.Writer, looks []Look, clock func(seconds float64) string) error {
	for _, l := range looks {
		if _, err := fmt.Fprintf(w, "%s  %.3f  %s\n", clock(l.Start), l.End-l.Start, l.Heading); err != nil {
			return err
		}
		if len(l.Reeds) < 2 {
			continue
		}
		for _, s := range l.Words {
			if _, err := fmt.Fprintf(w, "    %s\n", s); err != nil {
				return err
			}
		}
		if err := WriteLadder(w, l.Reeds, "    "); err != nil {
			return err
		}
	}
	return nil
}
