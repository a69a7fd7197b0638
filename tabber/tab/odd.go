package tab

import "fmt"

// OddTime is an event whose time can be read but hardly meant. Text says why, in words
// that go on from the event: "has no length".
type OddTime struct {
	Event int // index
	Text  string
}

// mostOverlap is how far, in seconds, an event may reach into the next before it is
// odd: two decimals of a second that a hand has written may lap over so far.
const mostOverlap = 0.02

// OddTimes are the events that have no length, lie outside the section or reach into
// the next event, which one mouth can't play.
func (d Document) OddTimes() []OddTime {
	var out []OddTime
	for i, e := range d.Events {
		odd := func(text string) { out = append(out, OddTime{i, text}) }
		if e.End <= e.Start {
			odd("has no length")
		}
		if d.To > d.From && (e.End < d.From || e.Start > d.To) {
			odd("lies outside the section")
		}
		if i+1 == len(d.Events) {
			continue
		}
		next := d.Events[i+1]
		over := e.End - next.Start
		if over <= mostOverlap {
			continue
		}
		text := fmt.Sprintf("reaches %.3f s into the next event", over)
		if len(e.Actions) > 0 && len(next.Actions) > 0 && e.Actions[0].Breath != next.Actions[0].Breath {
			text += ", which has the other breath"
		}
		odd(text)
	}
	return out
}
