package tab

import (
	"cmp"
	"errors"
	"math"
)

// leastBar is how much of a bar in seconds must lie within the section.
const leastBar = 0.05

// LayBars is a document with bar lines in place of those it had: bar 1 begins at a time
// in seconds, others before and after it at its tempo, or, with beats tapped (seconds,
// ascending), bar 1 at the beat nearest to that time and others as many beats on and back
// as the meter has. An empty meter is that of the document, or 4/4. Chords and form are
// not known then.
func LayBars(d Document, at float64, meter string, beats []float64) (Document, error) {
	d.Meter = cmp.Or(meter, d.Meter, "4/4")
	d.Bars, d.Form = nil, ""
	from, to := d.From, d.To
	for _, e := range d.Events {
		to = max(to, e.End)
	}
	n := d.BeatsInBar()
	if len(beats) == 0 {
		if d.BPM <= 0 {
			return d, errors.New("where bars lie takes a tempo, which the tab does not have")
		}
		bar := float64(n) * 60 / round1(d.BPM)
		first := int(math.Ceil((from - at) / bar))
		for k := first; k == first || at+float64(k)*bar < to-leastBar; k++ {
			d.Bars = append(d.Bars, Bar{Number: 1 + k, Start: at + float64(k)*bar})
		}
		return d, nil
	}
	one := 0
	for i, t := range beats {
		if math.Abs(t-at) < math.Abs(beats[one]-at) {
			one = i
		}
	}
	for i := one % n; i < len(beats); i += n {
		d.Bars = append(d.Bars, Bar{Number: 1 + (i-one)/n, Start: beats[i]})
	}
	d.BPM = 60 * float64(len(beats)-1) / (beats[len(beats)-1] - beats[0])
	return d, nil
}
