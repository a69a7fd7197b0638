package tab

import (
	"cmp"
	"errors"
	"math"
)

// LayBars is a document with bar lines in place of those it had: bar 1 begins at a time
// in seconds, others at its tempo, or, with beats tapped (seconds, ascending), bar 1 at
// the beat nearest to that time and another as many beats on as the meter has. An empty
// meter is that of the document, or 4/4. Chords and form are not known then.
func LayBars(d Document, at float64, meter string, beats []float64) (Document, error) {
	d.Meter = cmp.Or(meter, d.Meter, "4/4")
	d.Bars, d.Form = nil, ""
	if len(beats) == 0 {
		if d.BPM <= 0 {
			return d, errors.New("where bars lie takes a tempo, which the tab does not have")
		}
		d.Bars = []Bar{{Number: 1, Start: at}}
		return d, nil
	}
	one := 0
	for i, t := range beats {
		if math.Abs(t-at) < math.Abs(beats[one]-at) {
			one = i
		}
	}
	n := d.beatsInBar()
	for i := one % n; i < len(beats); i += n {
		d.Bars = append(d.Bars, Bar{Number: 1 + (i-one)/n, Start: beats[i]})
	}
	d.BPM = 60 * float64(len(beats)-1) / (beats[len(beats)-1] - beats[0])
	if len(d.Bars) == 0 {
		return d, errors.New("the beats do not make a bar")
	}
	return d, nil
}
