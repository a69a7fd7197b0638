package contour

import (
	"math"

	"blowdraw/pitch"
)

// Brighten is a change of tone at the front of a note from dark to what it is like in
// its middle, such as hands make that open: by DB of the partials from the third on
// against the lower two, over Seconds.
type Brighten struct {
	DB, Seconds float64
	Dark, Soft  float64 // areas in dB times seconds: how much darker, how much softer, than the middle
	Uneven      float64 // dB from frame to frame in the middle
	Even        float64 // the way to bright as a share of all change of tone on it
}

const (
	openSeconds = 0.5 // hands that take longer do not begin the note
	openNear    = 2.0 // dB that count as there
	darkFrames  = 3   // over which the darkest moment is taken
)

// Opening is the change of tone at the front of the line, about its darkest moment. It
// begins where the note is heard, since every soft tone is dark.
func (l Line) Opening() Brighten {
	n := len(l.Tone)
	reach := min(frames(openSeconds), 2*n/3)
	if reach < darkFrames {
		return Brighten{}
	}
	tone, level := pitch.Median(l.Tone[n/3:n-n/5]), pitch.Median(l.Level[n/3:n-n/5])
	speaks := 0
	for speaks < reach-1 && l.Level[speaks] < level-audible {
		speaks++
	}
	smooth := func(i int) float64 { return pitch.Median(l.Tone[max(0, i-1):min(n, i-1+darkFrames)]) }
	darkest := speaks
	for i := speaks; i < min(speaks+reach/2, reach); i++ {
		if smooth(i) < smooth(darkest) {
			darkest = i
		}
	}
	from, to := darkest, darkest
	for from > speaks && smooth(from-1) < tone-openNear {
		from--
	}
	for to < reach && smooth(to) < tone-openNear {
		to++
	}
	b := Brighten{DB: max(0, tone-smooth(darkest)), Seconds: float64(to-from) * pitch.HopSeconds, Uneven: l.uneven()}
	way := 1e-9
	for i := darkest + 1; i <= to && i < n; i++ {
		way += math.Abs(smooth(i) - smooth(i-1))
	}
	b.Even = max(0, smooth(min(to, n-1))-smooth(darkest)) / way
	for i := from; i < to; i++ {
		b.Dark += max(0, tone-l.Tone[i]) * pitch.HopSeconds
		b.Soft += max(0, level-l.Level[i]) * pitch.HopSeconds
	}
	return b
}

// Closing is the change of tone at the end of the line, told from the end backwards.
func (l Line) Closing() Brighten { return l.reversed().Opening() }

// freeBins lists the bins from low to high Hz that no partial of the reeds is near.
func freeBins(reeds []float64, low, high float64) []int {
	var free []int
	for k := range bins {
		f := float64(k) * binHz
		apart := f >= low && f < high
		for _, hz := range reeds {
			apart = apart && math.Abs(f-math.Round(f/hz)*hz) > clash*binHz
		}
		if apart {
			free = append(free, k)
		}
	}
	return free
}

// uneven is the median change of tone in dB from frame to frame in the middle.
func (l Line) uneven() float64 {
	n := len(l.Tone)
	var steps []float64
	for i := max(1, n/3); i < n-n/5; i++ {
		steps = append(steps, math.Abs(l.Tone[i]-l.Tone[i-1]))
	}
	if len(steps) == 0 {
		return 0
	}
	return pitch.Median(steps)
}

// Frequencies in Hz between which air is heard.
const airLow, airHigh = 2000.0, 8000.0

// Air is in each frame the level in dB of what lies between the partials of the reeds
// (Hz), per bin: breath, and the click of a sudden start. -120 where partials leave
// nothing free.
func (s Spectra) Air(reeds []float64) []float64 {
	free := freeBins(reeds, airLow, airHigh)
	out := make([]float64, len(s.power))
	for i := range out {
		sum := 0.0
		for _, k := range free {
			sum += math.Log10(float64(s.power[i][k]) + 1e-12)
		}
		if out[i] = -120; len(free) > 0 {
			out[i] = 10 * sum / float64(len(free))
		}
	}
	return out
}
