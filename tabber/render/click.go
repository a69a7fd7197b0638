package render

import (
	"math"

	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

// Click is one tick of a metronome, At seconds; the first of a bar is higher.
type Click struct {
	At    float64
	First bool
}

const (
	clickHz, firstHz = 1000.0, 1500.0
	clickTime        = 0.030 // s
	clickLevel       = 0.25
)

// AddClicks adds clicks to a channel, in place; those outside it are left out.
func AddClicks(x []float64, rate int, clicks []Click) {
	for _, c := range clicks {
		hz := clickHz
		if c.First {
			hz = firstHz
		}
		from := int(math.Round(c.At * float64(rate)))
		for i := range int(clickTime * float64(rate)) {
			if j := from + i; j >= 0 && j < len(x) {
				t := float64(i) / float64(rate)
				x[j] += clickLevel * math.Exp(-t/0.006) * math.Sin(2*math.Pi*hz*t)
			}
		}
	}
}

// Clicks are the beats of a tab on the clock of [Play], from 0 to the given
// seconds; none if the tab has neither bar lines nor a tempo. Without bar lines they
// run through the start of the first event.
func Clicks(d tab.Document, from, speed, seconds float64) []Click {
	g := grid.Of(d)
	if !g.Known && d.BPM <= 0 || len(d.Events) == 0 {
		return nil
	}
	var out []Click
	for k := int(math.Ceil(g.At(from) - 1e-6)); ; k++ {
		at := (g.Time(float64(k)) - from) / speed
		if at >= seconds {
			return out
		}
		first := g.Known && ((k%g.PerBar)+g.PerBar)%g.PerBar == 0
		out = append(out, Click{At: max(0, at), First: first})
	}
}
