package render

import (
	"math"

	"blowdraw/decode/loudness"
)

// Loudest is how loud sound for practice may be, in LUFS.
const Loudest = -14.0

const (
	oneSide = Loudest - 3 // LUFS of one channel: both together are at most Loudest
	ceiling = 0.89        // of full scale, -1 dB
)

// Even scales one channel so that it is as loud as one side may be, in place.
// Silence stays.
func Even(x []float64, rate int) {
	if now := loudness.Integrated([][]float64{x}, rate); !math.IsInf(now, -1) {
		scale(x, oneSide-now)
	}
	Limit(x, rate, ceiling)
}

// Soften lowers channels, in place and all alike, that are louder than practice
// should be, and limits their peaks.
func Soften(channels [][]float64, rate int) {
	most := Loudest
	if len(channels) == 1 {
		most = oneSide
	}
	now := loudness.Integrated(channels, rate)
	for _, x := range channels {
		if now > most {
			scale(x, most-now)
		}
		Limit(x, rate, ceiling)
	}
}

func scale(x []float64, db float64) {
	gain := math.Pow(10, db/20)
	for i := range x {
		x[i] *= gain
	}
}
