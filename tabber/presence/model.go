package presence

const (
	trusted   = 0.3 // exponent of a block's probability: blocks overlap
	most      = 4.0 // log odds that one block can give
	full      = 0.3 // share of a block that its events fill from which they count in full
	switching = 6.0 // log odds against a change from one block to the next,
	apart     = 4   // half of that if they are so many blocks apart
	harpFirst = 2.0 // log odds in favour of the harp: a note lost costs more than one too many
)

// model gives log odds: constant plus the sum of weight times cue.
type model struct {
	constant float64
	weights  []float64
}

func (m model) odds(x cues) float64 {
	z := m.constant
	for i, w := range m.weights {
		z += w * x[i]
	}
	return z
}

// The models were fitted by TestPresence of package tabber (build tag tune).
var (
	harpModel = model{-10.457, []float64{
		sure: 0.4965, sounds: -0.4060, breathed: 0.6619, reeds: -0.1643, muddle: 0.1501, stands: 0.2061, swells: -0.0326,
		offGrid: 0.0891, wanders: 0.0746, slides: -0.6326, vowels: -0.4215, lasts: -0.8818, bent: -1.9356, filled: 7.2616, surest: 0.1445,
		breath: 0.5607, doubtful: 0.1866, above: 0.1366, pulsing: -0.0257, gliding: -0.1535, colour: 3.4705, flat: 0.0052,
	}}
	voiceModel = model{-2.427, []float64{
		sure: -1.3929, sounds: 0.7470, breathed: -0.9224, reeds: 1.2720, muddle: -0.9656, stands: -0.7175, swells: -0.0245,
		offGrid: -0.0797, wanders: -1.0878, slides: -1.4716, vowels: 1.9062, lasts: 1.6860, bent: 2.0244, filled: 4.7870, surest: -0.0244,
		breath: -0.5678, doubtful: 0.4172, above: 0.0174, pulsing: -0.1674, gliding: 0.0171, colour: -1.5292, flat: -0.0541,
	}}
)
