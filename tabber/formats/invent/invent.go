// Package invent makes up tabs for tests of the forms that tabs are given away in.
package invent

import (
	"math/rand/v2"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Document is a tab for any harp, key, tempo and meter, with all that a harp can play:
// single notes, bends, overbends, double stops, splits and chords, one or two
// phrases of up to a dozen events each. Where others is set there are doubtful
// events, marks and sounds that the harp does not have.
func Document(seed uint64, others bool) tab.Document {
	rng := rand.New(rand.NewPCG(seed, 3))
	layouts := harp.Layouts()
	h, err := harp.Parse(harp.KeyName(rng.IntN(12)), layouts[rng.IntN(len(layouts))])
	if err != nil {
		panic(err)
	}
	d := tab.Document{
		Recording: "made up.wav", From: 3 * rng.Float64(), Harp: h,
		SongKey: harp.SongKey(h.Key(), 1+rng.IntN(5)), TuningCents: 60*rng.Float64() - 30,
		BPM: 60 + 90*rng.Float64(),
	}
	at := d.From + rng.Float64()
	for range 1 + rng.IntN(2) {
		begin := at
		for range 1 + rng.IntN(12) {
			length := float64(1+rng.IntN(5)) * 20 / d.BPM
			e := tab.Event{Start: at, End: at + length*(0.7+0.3*rng.Float64()), Actions: actions(rng, h),
				Confidence: 1}
			if others && rng.IntN(5) == 0 {
				e.Confidence = 0.5
			}
			if others && rng.IntN(8) == 0 {
				e.Actions, e.Pitches = nil, []float64{float64(h.Base) + 30*rng.Float64()}
			}
			if others {
				for _, w := range tab.MarkWords() {
					if rng.IntN(12) == 0 {
						e.Marks = append(e.Marks, tab.Mark{Name: w.Name, Cents: 40 * rng.Float64()})
					}
				}
			}
			e.Texture = tab.Texture(e.Actions)
			d.Events = append(d.Events, e)
			at += length
		}
		d.Phrases = append(d.Phrases, tab.Phrase{Start: begin, End: at})
		at += 1 + rng.Float64()
	}
	d.To = at
	if rng.IntN(2) == 0 {
		bars(rng, &d)
	}
	return d
}

// bars gives the tab a meter and bar lines, the first before or after it begins.
func bars(rng *rand.Rand, d *tab.Document) {
	d.Meter = []string{"4/4", "12/8", "3/4"}[rng.IntN(3)]
	beat := 60 / d.BPM
	start := max(0, d.Events[0].Start+float64(rng.IntN(3)-1)*beat)
	for n := 1; start < d.To; n++ {
		d.Bars = append(d.Bars, tab.Bar{Number: n, Start: start,
			Chord: []string{"", "I", "IV7", "i V"}[rng.IntN(4)]})
		start += float64(tab.Meters[d.Meter]) * beat
	}
}

func actions(rng *rand.Rand, h harp.Harp) []harp.Action {
	if rng.IntN(3) > 0 {
		all := h.Actions(true)
		return all[rng.IntN(len(all)):][:1]
	}
	breath, first, n := harp.Breath(rng.IntN(2)), 1+rng.IntN(6), 2+rng.IntN(2)
	step := 1
	if n == 2 && rng.IntN(2) == 0 {
		step = 3
	}
	var out []harp.Action
	for i := range n {
		out = append(out, harp.Action{Breath: breath, Hole: first + i*step})
	}
	return out
}
