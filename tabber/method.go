package tabber

// method is everything that decides how frames become events. The numbers were
// set for the learned ear by a search over clips as a whole (tune_test.go), for
// the classical one by hand.
type method struct {
	weights weights
	priors  priors
	tail    tail
	late    float64 // seconds after its event within which a second reed may come in
}

var learnedMethod = method{
	weights: weights{
		sounding: 0.1, breath: 0.16, count: 0.05, lean: -1,
		attack: 1.5, event: 0.5, attackFloor: -6, attackCeil: 3.3,
		moves: moves{change: -2.2, start: -1.9, stop: -2, jump: -0.25, farthest: -1},
	},
	priors: priors{
		bend: 0.9, overbend: -2, double: 0.1, bentDouble: -2.25, split: 1.5, wideOctave: 1.35, rareSplit: -3.75,
		chord: -2.2, bigChord: -3.2, unplayable: -6,
	},
	tail: tail{fall: 2, sounding: 0.97, surely: 8},
	late: 0.12,
}

var classicalMethod = method{
	weights: weights{
		sounding: 0.5, attack: 1, attackFloor: -3, attackCeil: 6,
		moves: moves{change: -4, start: -3, stop: -3, breath: -0.3, jump: -0.3, farthest: -1.5},
	},
	priors: usual,
}
