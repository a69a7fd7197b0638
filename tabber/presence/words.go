package presence

import (
	"fmt"
	"math"
)

// harpLevels are words for the harp's level in dB against the band.
var harpLevels = [...]struct {
	least float64
	words string
}{
	{AloneDB, "the harp plays all but alone"},
	{8, "the harp stands well above the band"},
	{2, "the harp stands above the band"},
	{-2, "the harp is as loud as the band: expect mistakes"},
	{math.Inf(-1), "the harp is below the band: expect many mistakes"},
}

const (
	narrow  = 6000 // Hz of bandwidth below which it is told
	noticed = -30  // dB of noise against the harp from which it is told
)

// Words say in players' words what makes it hard to hear the harp; none if nothing was
// measured.
func (c Condition) Words() []string {
	if c.Bandwidth <= 0 {
		return nil
	}
	var parts []string
	for _, l := range harpLevels {
		if c.HarpDB >= l.least { // never if it is not known
			parts = append(parts, fmt.Sprintf("%s (%s dB)", l.words, signed(c.HarpDB)))
			break
		}
	}
	if c.Bandwidth < narrow {
		parts = append(parts, fmt.Sprintf("no sound above %.1f kHz", c.Bandwidth/1000))
	}
	if c.HarpDB >= AloneDB && c.NoiseDB > noticed {
		parts = append(parts, fmt.Sprintf("noise %.0f dB below the harp", -c.NoiseDB))
	}
	return parts
}

// signed is a whole number with its sign, 0 without one.
func signed(v float64) string {
	n := int(math.Round(v))
	if n == 0 {
		return "0"
	}
	return fmt.Sprintf("%+d", n)
}
