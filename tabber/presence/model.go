package presence

// Of events:
const (
	most      = 4.0  // log odds that one event can give
	full      = 0.25 // seconds from which on an event counts in full
	switching = 5.0  // log odds against a change of player from one event to the next,
	apart     = 3.0  // less by a factor of e for so many seconds between them
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
	// 7811 cases, 0.9562 right by what they count
	harpModel = model{4.9205, []float64{
		0.2369, 0.0013, 0.0851, -0.0491, -0.1559, -0.0374, 0.0660, -0.0071,
		0.0015, -0.1682, -0.5177, 1.5784, -1.0746, 0.4952, 0.9742, -0.2626,
		0.0890, -0.1516, 0.5164, 1.2775, 0.1966, 0.1377, 0.1925, -0.3871,
		0.0773, -0.9221, -1.2052, 0.4314, -0.0852, -0.2556, 0.2193, 0.7793,
		0.5641, -0.1227, 0.1548, -0.3218, -1.1069, 2.1980, 0.5317, -0.2747,
		0.4208, -2.7562, 0.0173, 0.0913, 0.7886, 1.6174, 0.8692, 0.9685,
		-4.5382, 0.5873, 0.6664, 1.3264, 0.7305, 0.9287, -0.2331, -0.7900,
		-1.7143, 0.6343, 0.1710, 1.1085, -0.0948, -2.2071, 0.0420, 1.1147,
		-0.7428, 1.1489, 2.7813, 0.8193, -0.1716, -0.2577, 0.4915, -0.5031,
		0.2647, 0.1644, 0.4637, 1.1092, -0.3213, 1.4894, 0.4216, -1.4782,
		0.3279, 0.2641, -2.7263, -0.0983, -0.1388, 0.2316, -0.1983, -1.1318,
		-0.5635, 0.1948, 0.2307, 0.4972, 0.0098, 0.0935, -1.0294, -0.1051,
		0.8850, 1.6089, -0.4646, 1.4142, 0.0585, 0.5488, 0.1809, 0.6119,
		-0.0814, -0.9809, -0.8109, -0.5214, -0.3719, -1.3818, -0.5865, 0.0907,
		0.2837, -0.9936, 1.0607, -0.3233, -0.0585, -0.3846, 1.1623, 0.1249,
		1.7220, 0.5416, 2.3300, -0.7812, -0.2877, -0.9527, -0.3918, -0.8356,
		-0.2355, 1.2954, 0.2947, -0.4813, 0.7475, 0.3546, -0.3879, 0.4764,
		0.3827, -0.5972, 0.3875, 0.3321, -1.2920,
	}}
	// 13928 cases, 0.7782 right by what they count
	voiceModel = model{-5.1875, []float64{
		-0.1251, 0.6334, 1.1587, 0.6437, -0.0227, 0.5099, 0.0847, -0.0080,
		-0.1984, -0.5781, 0.5232, 2.0179, 0.0070, -0.2602, -0.6762, -0.5801,
		0.4200, -0.0234, -0.1642, -0.0878, 0.0412, -0.2830, 0.2513, 0.4757,
		0.2199, 0.5480, 1.5671, -0.3609, -0.0507, 0.3562, 0.0489, -0.0361,
		0.1445, -1.1233, -0.1119,
	}}
)
