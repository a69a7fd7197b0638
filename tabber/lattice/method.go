package lattice

import (
	_ "embed"

	"blowdraw/decode/logistic"
)

// Method is the numbers that decide how frames become spans.
type Method struct {
	Weights Weights
	Priors  Priors
}

// Weights say how much a decision trusts each kind of evidence.
type Weights struct {
	Sounding, Breath, Count float64 // exponents of the ear's probabilities
	Lean                    float64 // log odds by which the ear overstates what sounds
	Attack, Event           float64 // exponents of the odds that a reed, and that any note, begins
	AttackFloor             float64 // least log odds that an attack can have,
	AttackCeil              float64 // and the most
	Mask                    float64 // dB under the loudest from which a reed is heard less, and
	Masked                  float64 // log odds that each further dB takes
	Moves                   Moves
}

// Moves are the costs (log weights) of going from one state to another.
type Moves struct {
	Change   float64 // any new note
	Start    float64 // a note after silence
	Stop     float64 // silence after a note
	Breath   float64 // more when the breath turns
	Jump     float64 // more for each hole moved beyond the first
	Farthest float64 // jumps cost no more than this
}

// Priors are log weights of kinds of states against a natural single note.
type Priors struct {
	Bend, Overbend, Double, BentDouble, Split, WideOctave, RareSplit, Chord, BigChord, Unplayable float64
}

// Number is a number of a method with its name.
type Number struct {
	Name string
	Of   func(*Method) *float64
}

// Numbers lists all numbers of a method, in the order of its file.
func Numbers() []Number {
	return []Number{
		{"sounding", func(m *Method) *float64 { return &m.Weights.Sounding }},
		{"breath", func(m *Method) *float64 { return &m.Weights.Breath }},
		{"count", func(m *Method) *float64 { return &m.Weights.Count }},
		{"lean", func(m *Method) *float64 { return &m.Weights.Lean }},
		{"attack", func(m *Method) *float64 { return &m.Weights.Attack }},
		{"event", func(m *Method) *float64 { return &m.Weights.Event }},
		{"attackFloor", func(m *Method) *float64 { return &m.Weights.AttackFloor }},
		{"attackCeil", func(m *Method) *float64 { return &m.Weights.AttackCeil }},
		{"mask", func(m *Method) *float64 { return &m.Weights.Mask }},
		{"masked", func(m *Method) *float64 { return &m.Weights.Masked }},
		{"change", func(m *Method) *float64 { return &m.Weights.Moves.Change }},
		{"start", func(m *Method) *float64 { return &m.Weights.Moves.Start }},
		{"stop", func(m *Method) *float64 { return &m.Weights.Moves.Stop }},
		{"breathTurn", func(m *Method) *float64 { return &m.Weights.Moves.Breath }},
		{"jump", func(m *Method) *float64 { return &m.Weights.Moves.Jump }},
		{"farthest", func(m *Method) *float64 { return &m.Weights.Moves.Farthest }},
		{"bend", func(m *Method) *float64 { return &m.Priors.Bend }},
		{"overbend", func(m *Method) *float64 { return &m.Priors.Overbend }},
		{"double", func(m *Method) *float64 { return &m.Priors.Double }},
		{"bentDouble", func(m *Method) *float64 { return &m.Priors.BentDouble }},
		{"split", func(m *Method) *float64 { return &m.Priors.Split }},
		{"wideOctave", func(m *Method) *float64 { return &m.Priors.WideOctave }},
		{"rareSplit", func(m *Method) *float64 { return &m.Priors.RareSplit }},
		{"chord", func(m *Method) *float64 { return &m.Priors.Chord }},
		{"bigChord", func(m *Method) *float64 { return &m.Priors.BigChord }},
		{"unplayable", func(m *Method) *float64 { return &m.Priors.Unplayable }},
	}
}

//go:embed decision.json
var decision []byte

// Learned is the method of the learned ear, searched over clips as a whole, one number
// changed at a time (blowdraw-lab fit method): hard sets of seeds 1 and 77, the bench, and
// clips of the ear's training program.
func Learned() Method {
	var names []string
	for _, n := range Numbers() {
		names = append(names, n.Name)
	}
	var m Method
	for i, v := range logistic.MustRead(decision, names).Weights {
		*Numbers()[i].Of(&m) = v
	}
	return m
}

// Classical is the method of the classical ear, set by hand. Its priors are common
// practice, no source, and coarse on purpose.
func Classical() Method {
	return Method{
		Weights: Weights{
			Sounding: 0.5, Attack: 1, AttackFloor: -3, AttackCeil: 6,
			Moves: Moves{Change: -4, Start: -3, Stop: -3, Breath: -0.3, Jump: -0.3, Farthest: -1.5},
		},
		Priors: Priors{
			Bend: -0.2, Overbend: -2, Double: -0.5, BentDouble: -2, Split: -1, RareSplit: -2.5,
			WideOctave: -1, Chord: -1, BigChord: -1, Unplayable: -6,
		},
	}
}
