package presence

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// Condition is how hard a recording makes it to hear the harp.
type Condition struct {
	HarpDB    float64 // the harp while it plays against the band while it rests; NaN if it never rests
	NoiseDB   float64 // the quietest moments against the harp and all that sounds with it
	Bandwidth float64 // Hz up to which there is more than noise
}

// AloneDB is the HarpDB from which the harp plays all but alone.
const AloneDB = 15

const (
	ringing   = 0.4  // seconds after a note in which a room still sounds
	early     = 0.05 // seconds before a note that may belong to it
	leastRest = 0.5  // seconds of rest near the harp that tell the band's level
)

// Condition measures what was added. Events are those that the harp plays, left
// out those that it does not. The band is measured between notes, in the
// stretches of the harp; elsewhere a voice or a soloist may be louder.
//
// While the harp plays, the power is the sum of the harp's and the band's, which
// go their own ways; while it rests the band's is left.
func (t *Track) Condition(events, leftOut []tab.Event, stretches []Stretch) Condition {
	playing, busy := t.marked(events, 0, 0), t.marked(events, early, ringing)
	for i, v := range t.marked(leftOut, early, ringing) {
		busy[i] = busy[i] || v
	}
	for _, s := range stretches {
		if s.Kind != Harp {
			t.mark(busy, s.Start, s.End)
		}
	}
	var loud, rest, n, m float64
	for i, v := range t.whole {
		p := math.Pow(10, v.dB()/10)
		switch {
		case playing[i]:
			loud, n = loud+p, n+1
		case !busy[i]:
			rest, m = rest+p, m+1
		}
	}
	c := Condition{HarpDB: math.NaN(), NoiseDB: math.NaN(), Bandwidth: t.bandwidth()}
	if n == 0 {
		return c
	}
	loud /= n
	c.NoiseDB = percentile(t.whole, 0.03) - 10*math.Log10(loud)
	if m*pitch.HopSeconds >= leastRest {
		band := rest/m + 1e-12
		c.HarpDB = 10 * math.Log10(max(loud-band, band/100)/band)
	}
	return c
}

// marked tells for every frame whether it lies in an event, or up to so many
// seconds before or after.
func (t *Track) marked(events []tab.Event, before, after float64) []bool {
	out := make([]bool, t.frames())
	for _, e := range events {
		t.mark(out, e.Start-before, e.End+after)
	}
	return out
}

func (t *Track) mark(frames []bool, start, end float64) {
	from, to := int((start-t.start)/pitch.HopSeconds), int((end-t.start)/pitch.HopSeconds)
	for i := max(0, from); i < min(to, len(frames)); i++ {
		frames[i] = true
	}
}

const (
	overFloor = 10 // dB above the weakest part of the spectrum that count as sound
	underTop  = 75 // dB below the strongest part that no longer count
	smoothed  = 10 // bins of the spectrum on either side that are averaged
)

// bandwidth is the highest frequency at which the mean spectrum stands out.
func (t *Track) bandwidth() float64 {
	db := make([]float64, len(t.spectrum)-2*smoothed)
	lowest, highest := math.Inf(1), math.Inf(-1)
	for i := range db {
		sum := 0.0
		for _, p := range t.spectrum[i : i+2*smoothed+1] {
			sum += p
		}
		db[i] = 10 * math.Log10(sum+1e-12)
		lowest, highest = min(lowest, db[i]), max(highest, db[i])
	}
	for i := len(db) - 1; i >= 0; i-- {
		if db[i] > lowest+overFloor && db[i] > highest-underTop {
			return float64(i+smoothed) * pitch.Rate / sketchWindow
		}
	}
	return pitch.Rate / 2
}
