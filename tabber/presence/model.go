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
	// 7866 cases, 0.9540 right by what they count
	harpModel = model{4.1328, []float64{
		0.2602, 0.0722, 0.0472, -0.0553, -0.2481, 0.0352, 0.0060, 0.0273,
		-0.0089, -0.1688, -0.4962, 1.4840, -1.0200, 1.1348, 0.8739, -0.2835,
		0.0575, -0.0735, 0.6271, 0.8395, 0.4665, 0.1056, 0.1014, -0.2485,
		0.1503, -0.9522, -1.2041, 0.5024, 0.0696, -0.1372, -0.0322, 0.8438,
		0.0796, -0.2628, 0.1005, -0.4359, -0.8408, 2.4983, 0.8428, -0.5860,
		0.4007, -2.7946, 0.4610, -0.0587, 0.6008, 1.6267, 1.2362, 0.9155,
		-3.7838, 0.3828, 0.8315, 1.5001, 0.5701, 0.6909, -0.2724, -1.1317,
		-2.0538, 0.7683, 0.1257, 0.8814, -0.1512, -2.0608, 0.0669, 0.7357,
		-0.6974, 1.0009, 2.3208, 0.8110, -0.0291, -0.1810, 1.3756, -0.5859,
		0.1441, -0.0863, 0.6075, 1.0644, -0.0034, 1.6132, 0.3443, -1.5296,
		0.3155, -0.0440, -2.0474, 0.0344, -0.1705, 0.4105, -0.6401, -1.2438,
		-0.5122, -0.0818, 0.5225, 0.4637, -0.2462, 0.2048, -0.7596, 0.2584,
		0.7406, 1.4616, -0.6366, 1.2998, 0.2359, 0.6136, -0.0261, 0.5370,
		-0.0158, -0.9343, -0.9162, -0.5343, -0.5959, -1.9708, -0.4084, 0.2118,
		0.4483, -1.0897, 1.2886, -0.3343, 0.1181, -0.3527, 0.9632, 0.0146,
		1.5804, 0.6402, 1.4477, -0.2441, -0.3404, -0.9090, -0.2296, -0.7126,
		-0.3210, 1.4855, 0.4596, -0.6240, 0.6494, 0.7480, -0.2287, 0.0566,
		0.3724, -0.4937, 0.3518, 0.4264, -1.3915,
	}}
	// 13928 cases, 0.7858 right by what they count
	voiceModel = model{-4.8644, []float64{
		-0.0496, 0.7560, 1.0565, 0.8523, -0.3844, 0.4162, 0.3845, 0.0671,
		-0.5078, -0.7016, 0.4628, 2.8115, -0.6790, -0.2546, -0.5125, -0.6215,
		0.2379, 0.1664, -0.1205, -0.1283, 0.0348, -0.3911, 0.3392, 0.5251,
		0.2568, 1.0137, 2.1788, -0.3438, -0.0129, 0.3001, 0.0558, -0.0514,
		0.1371, -1.1428, -0.1060,
	}}
)
