package tabber

import (
	"blowdraw/tabber/harp"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"
)

// Document is the result as the tab of a recording for a harp. Notes says in front of it
// what a reader should know. The meter is the one given, or as it is played; the key of the song
// is the one heard, or the usual one; channel and ear are left to who knows them.
func (r Result) Document(recording string, h harp.Harp, meter string, notes []string) tab.Document {
	d := tab.Document{
		Recording: recording, From: r.From, To: r.To, Harp: h,
		TuningCents: r.TuningCents, Events: r.Events, Phrases: r.Phrases, Notes: notes,
	}
	d.SongKey, d.SongAssumed = r.Key.OrUsual(h), !r.Key.Likely()
	d = r.Laid(d, meter)
	for _, g := range r.Gaps() {
		d.AddGap(g)
	}
	return d
}

// A gap is told if it is long, or if notes were left out of it.
const (
	leastVoice = 2.0 // seconds
	leastGap   = 8.0
)

// Gaps are the stretches worth telling in which no harp plays.
func (r Result) Gaps() []tab.Gap {
	var out []tab.Gap
	for _, s := range r.Stretches {
		if s.Kind == presence.Harp {
			continue
		}
		g := tab.Gap{Start: max(s.Start, r.From), End: min(s.End, r.To), Voice: s.Kind == presence.Voice}
		for _, e := range r.LeftOut {
			if mid := (e.Start + e.End) / 2; mid >= s.Start && mid < s.End {
				g.LeftOut++
			}
		}
		least := leastGap
		if g.Voice {
			least = leastVoice
		}
		if g.LeftOut > 0 || g.End-g.Start >= least {
			out = append(out, g)
		}
	}
	return out
}
