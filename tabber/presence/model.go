package presence

// Of events:
const (
	most      = 6.0  // log odds that one event can give
	full      = 0.25 // seconds from which on an event counts in full
	switching = 5.0  // log odds against a change of player from one event to the next,
	apart     = 1.5  // less by a factor of e for so many seconds between them
	harpFirst = 2.0  // log odds in favour of the harp: a note lost costs more than one too many;
	// how sure its notes are goes without
)

// Of blocks:
const (
	trusted        = 0.5 // exponent of a block's probability: blocks overlap
	voiceSwitching = 3.0 // log odds against a change from one block to the next
)

// model gives log odds: constant plus the sum of weight times cue.
type model struct {
	constant float64
	weights  []float64
}

func (m model) odds(x []float64) float64 {
	z := m.constant
	for i, w := range m.weights {
		z += w * x[i]
	}
	return z
}

// The models were fitted by TestPresence of package tabber (build tag tune) with
// -ridge 10. Weights are in the order of the cues: of an event its traits and
// pitch.Frames.Whole, of a block the cues.
var (
	// 7525 cases, 0.9581 right by what they count
	harpModel = model{5.0622, []float64{
		0.3521, -0.0516, 0.0564, -0.0803, 0.0386, 0.0875, 0.0807, 0.0005,
		0.0029, -0.1398, -0.5604, 1.7705, -1.3844, 1.1331, 1.1802, -0.0248,
		-0.2309, -0.1032, 0.7014, 1.1369, 0.3173, -0.1655, 0.8427, -0.0678,
		0.1898, -0.8729, -1.5944, 0.1904, -0.0277, 0.1632, -0.0695, 0.8742,
		0.6923, -0.3718, 0.1306, 0.2639, -2.0974, 2.3169, 1.0919, -0.2009,
		0.5642, -2.5708, 0.2174, 0.2454, 0.6477, 2.1762, 0.9691, 1.4336,
		-2.7210, 0.5167, 0.6692, 1.6467, 1.3100, 0.7538, -0.2502, -0.8000,
		-2.0086, 0.3934, -0.2364, 1.4715, -0.0188, -2.4539, 0.0647, 1.3300,
		-0.1828, 1.0999, 3.5874, 0.6035, -0.0292, 0.0103, 0.5049, -0.6288,
		0.2171, 0.1245, 0.2154, 1.2148, -0.4403, 1.1315, 0.3953, -1.8987,
		0.5588, -0.3070, -3.1258, 0.0288, -0.0190, -0.7820, -1.4934, -0.8967,
		-0.2033, -0.0623, 0.1505, 0.7953, -0.2417, 0.2151, -0.3280, -0.1366,
		0.6627, 1.1758, -0.5387, 1.7129, -0.0347, 0.0219, 0.2004, 0.6805,
		-0.1145, -1.4478, -0.6360, -0.3570, -0.1802, -1.8268, -1.9896, 0.1860,
		0.4020, -1.1400, 1.0036, -0.6157, 0.0972, -0.3009, 1.2972, 0.2970,
		1.7442, 0.1815, 2.6216, -0.7342, -0.0803, -0.9231, -0.3963, -0.5621,
		0.0320, 1.5431, 0.6886, -1.2426, 0.9166, 0.4192, -0.7135, 0.6379,
		0.5261, -0.3213, 0.3298, 0.7390, -1.4431,
	}}
	// 13770 cases, 0.7831 right by what they count
	voiceModel = model{-5.0436, []float64{
		0.0202, 0.0781, 1.0308, 1.1392, -0.0573, 0.5905, 0.3744, -0.0004,
		-0.1952, -0.6976, 0.4917, 2.7121, -0.9425, -0.3247, -0.5811, -0.6197,
		0.4716, 0.0409, -0.2194, -0.1179, 0.0365, -0.2589, 0.0493, 0.4993,
		0.1239, 0.8864, 2.3247, -0.4019, -0.0496, 0.4485, 0.0442, -0.0186,
		0.1437, -1.3313, -0.1135,
	}}
)
