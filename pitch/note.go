package pitch

import "math"

// MIDIToHz gives the frequency in Hz of a fractional MIDI note number
// (A4 = 69 = 440 Hz, ISO 16; twelve equal steps an octave).
func MIDIToHz(m float64) float64 { return 440 * math.Exp2((m-69)/12) }

// HzToMIDI is the inverse of MIDIToHz.
func HzToMIDI(hz float64) float64 { return 69 + 12*math.Log2(hz/440) }
