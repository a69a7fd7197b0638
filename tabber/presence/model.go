package presence

const (
	trusted   = 0.5 // exponent of a block's probability: blocks overlap
	most      = 4.0 // log odds that one block can give
	full      = 0.6 // share of a block that its events fill from which they count in full
	switching = 6.0 // log odds against a change from one block to the next,
	apart     = 4   // half of that if they are so many blocks apart
	harpFirst = 3.0 // log odds in favour of the harp: a note lost costs more than one too many;
	// how sure its notes are goes without
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

// The models were fitted by TestPresence of package tabber (build tag tune) with
// -ridge 50. Weights are in the order of the cues.
var (
	harpModel = model{-7.291, []float64{
		0.3253, 0.3082, 0.3860, -0.0472, -0.0398, 0.3042, 0.1122, 0.0951, 0.0292, -0.1362, -0.1082, -0.5861, -1.1569, // traits, summed
		0.1606, 0.2022, 0.2786, -0.2752, 0.2283, 0.0925, -0.0391, 0.0357, 0.0284, -0.0781, -0.4847, -0.0831, -1.0222, // traits, means
		2.2753, 0.2386, 0.2761, -0.0311, // of the ear
	}}
	voiceModel = model{-2.089, []float64{
		0.0219, 0.2372, 0.1467, 0.5498, -0.3054, 0.3249, 0.2357, -0.0161, -0.2610, -0.8487, 0.3862, -0.4860, 0.1443, // traits, summed
		-0.3613, -0.2831, -0.4170, 0.0932, 0.1338, -0.1017, 0.0064, -0.0144, -0.1594, -0.4400, 0.4829, 0.5235, 1.1369, // traits, means
		1.6474, -0.1115, 0.0974, -0.0280, // of the ear
		0.0243, -0.0247, 0.0312, -0.5374, -0.0541, // of the sound
	}}
)
