package form

import (
	"fmt"
	"math"
	"strings"
)

// slotAt are the parts of a beat at which a groove is described.
var slotAt = [7]float64{0, 1. / 4, 1. / 3, 1. / 2, 7. / 12, 2. / 3, 3. / 4}

// Slots are the parts of a beat at which a groove is described, 0 to 1.
func Slots() []float64 { return slotAt[:len(slotAt):len(slotAt)] }

// Pattern is a beat of a groove: for each strand how likely something begins in
// each slot, in tenths rounded down, a digit each. Its text has the strands one after
// the other with spaces between.
type Pattern [strands]string

// MarshalText is the pattern's text.
func (p Pattern) MarshalText() ([]byte, error) { return []byte(strings.Join(p[:], " ")), nil }

// UnmarshalText reads the pattern's text.
func (p *Pattern) UnmarshalText(text []byte) error {
	fields := strings.Fields(string(text))
	if len(fields) != len(p) {
		return fmt.Errorf("the pattern %q has %d strands, want %d", text, len(fields), len(p))
	}
	for i, f := range fields {
		if len(f) != len(slotAt) || strings.Trim(f, "0123456789") != "" {
			return fmt.Errorf("strand %q of the pattern %q is not %d digits", f, text, len(slotAt))
		}
		p[i] = f
	}
	return nil
}

// Groove is a way to play a bar of four: what each of its beats is like.
type Groove struct {
	Name  string    `json:"name"`
	Beats []Pattern `json:"beats"`
}

// strandWeight is how much each strand counts; chosen, not fitted.
var strandWeight = [strands]float64{1, 1, 0.6, 1, 0.5}

// weighed is the logarithm of how much likelier than anywhere a level is in a slot of
// that many tenths, times the strand's weight; 0 for what is unheard.
var weighed = fittedGrooves.logRatios()

func (g Grooves) logRatios() (out [strands][10][1 << levelBits]float32) {
	for s := range out {
		for tenths := range out[s] {
			p := (float64(tenths) + 0.4) / 10
			for l := range Levels {
				share := p*g.Hit[s][l] + (1-p)*g.Rest[s][l]
				out[s][tenths][l] = float32(strandWeight[s] * math.Log((share+1e-3)/(g.Usual[s][l]+1e-3)))
			}
		}
	}
	return out
}

// groovesIn are the grooves in bars of m beats: in three, the second and third beats
// are like the second of four; in any other meter bars are not told by rhythm.
func groovesIn(m int) []Groove {
	var out []Groove
	for _, g := range fittedGrooves.Grooves {
		if m != len(g.Beats) {
			beats := []Pattern{g.Beats[0]}
			for len(beats) < m {
				beats = append(beats, g.Beats[1])
			}
			g.Beats = beats
		}
		out = append(out, g)
	}
	return out
}
