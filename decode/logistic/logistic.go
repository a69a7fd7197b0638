// Package logistic holds logistic models: what speaks for or against something, each
// times a weight, and a constant, add up to its log odds (Cox 1958, "The regression
// analysis of binary sequences", Journal of the Royal Statistical Society B 20; from
// memory).
//
// The numbers of a model lie in a JSON file beside the package that uses it, by the
// names of what they weigh, with what they were fitted on and the checksums of what
// they stand on, such as the ear's weights: see [File]. They are written by a program,
// never by hand.
package logistic

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
)

// Weight is a number of a model with the name of what it weighs.
type Weight struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
}

// File is the JSON form of a fitted model, or of other fitted numbers that have no
// constant. StandsOn has, by the name of each thing that the fit depends on, the
// checksum that it had: when one of these changes, the model has to be fitted again.
type File struct {
	Model    string            `json:"model"`     // its name
	Says     string            `json:"says"`      // what its odds, or the numbers, are of
	FittedOn []string          `json:"fitted_on"` // the data, as they are made
	StandsOn map[string]string `json:"stands_on"`
	Constant float64           `json:"constant"`
	Weights  []Weight          `json:"weights"`
}

// Parse reads the file of a model.
func Parse(data []byte) (File, error) {
	var f File
	if err := json.Unmarshal(data, &f); err != nil {
		return f, fmt.Errorf("reading a fitted model: %w", err)
	}
	return f, nil
}

// Model gives log odds. Weights[i] is that of value i.
type Model struct {
	Constant float64
	Weights  []float64
}

// Model is the file's model for values with these names, in this order. It is an error
// if the file has not just these.
func (f File) Of(names []string) (Model, error) {
	m := Model{Constant: f.Constant}
	for _, name := range names {
		i := slices.IndexFunc(f.Weights, func(w Weight) bool { return w.Name == name })
		if i < 0 {
			return m, fmt.Errorf("the model %s has no weight of %q", f.Model, name)
		}
		m.Weights = append(m.Weights, f.Weights[i].Value)
	}
	if len(f.Weights) != len(names) {
		return m, fmt.Errorf("the model %s has %d weights for %d values", f.Model, len(f.Weights), len(names))
	}
	return m, nil
}

// MustRead is the model of an embedded file for values with these names, in this order.
// It panics if the file does not hold it, which is a mistake of the programmer.
func MustRead(data []byte, names []string) Model {
	f, err := Parse(data)
	if err != nil {
		panic(err)
	}
	m, err := f.Of(names)
	if err != nil {
		panic(err)
	}
	return m
}

// Odds are the log odds, given the values that the weights are of.
func (m Model) Odds(x []float64) float64 {
	z := m.Constant
	for i, w := range m.Weights {
		z += w * x[i]
	}
	return z
}

// Probability is that of the odds, given the values that the weights are of.
func (m Model) Probability(x []float64) float64 { return Probability(m.Odds(x)) }

// Probability of log odds.
func Probability(odds float64) float64 { return 1 / (1 + math.Exp(-odds)) }

// Odds of a probability: its log odds, within ±most.
func Odds(p, most float64) float64 {
	return min(max(math.Log(p/(1-p)), -most), most)
}
