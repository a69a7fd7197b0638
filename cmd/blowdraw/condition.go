package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"blowdraw/tabber"
	"blowdraw/tabber/presence"
)

// harpLevels are words for the harp's level in dB against the band.
var harpLevels = []struct {
	least float64
	words string
}{
	{presence.AloneDB, "the harp plays all but alone"},
	{8, "the harp stands well above the band"},
	{2, "the harp stands above the band"},
	{-2, "the harp is as loud as the band: expect mistakes"},
	{math.Inf(-1), "the harp is below the band: expect many mistakes"},
}

const (
	narrow   = 6000 // Hz of bandwidth below which it is told
	noticed  = -30  // dB of noise against the harp from which it is told
	offSpeed = 15.0 // cents off pitch from which a speed is told
	halfway  = 50.0 // cents from which on a harp a semitone away would be nearer
)

// conditionNote says how hard the recording is; nothing if it could not be told.
func conditionNote(r tabber.Result) []string {
	var parts []string
	c := r.Condition
	if r.Stretches != nil && !slices.ContainsFunc(r.Stretches, func(s presence.Stretch) bool { return s.Kind == presence.Harp }) {
		return []string{"nothing surely sounds like a harp: every note is in doubt"}
	}
	if c.Bandwidth > 0 && !math.IsNaN(c.HarpDB) {
		for _, l := range harpLevels {
			if c.HarpDB >= l.least {
				parts = append(parts, fmt.Sprintf("%s (%s dB)", l.words, signed(c.HarpDB)))
				break
			}
		}
	}
	if c.Bandwidth > 0 && c.Bandwidth < narrow {
		parts = append(parts, fmt.Sprintf("no sound above %.1f kHz", c.Bandwidth/1000))
	}
	if c.Bandwidth > 0 && c.HarpDB >= harpLevels[0].least && c.NoiseDB > noticed {
		parts = append(parts, fmt.Sprintf("noise %.0f dB below the harp", -c.NoiseDB))
	}
	if cents := r.TuningCents; math.Abs(cents) >= offSpeed {
		way := "fast"
		if cents < 0 {
			way = "slow"
		}
		told := fmt.Sprintf("%.1f%% %s if the harp was tuned to A = 440 Hz", 100*math.Abs(math.Exp2(cents/1200)-1), way)
		if math.Abs(cents) > halfway {
			told += ", going by the harp you named: with another key it would be less"
		}
		parts = append(parts, told)
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{strings.Join(parts, "; ")}
}

// signed is a whole number with its sign, 0 without one.
func signed(v float64) string {
	n := int(math.Round(v))
	if n == 0 {
		return "0"
	}
	return fmt.Sprintf("%+d", n)
}
