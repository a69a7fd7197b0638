package form

import (
	"embed"
	"encoding/json"
	"fmt"
	"slices"

	"blowdraw/decode/logistic"
)

// fittedFiles have all fitted numbers, one model a file, named after it.
//
//go:embed fitted/*.json
var fittedFiles embed.FS

// fittedFile is the file of a model. It panics if there is none, which is a mistake of
// the programmer.
func fittedFile(model string) []byte {
	data, err := fittedFiles.ReadFile("fitted/" + model + ".json")
	if err != nil {
		panic(err)
	}
	return data
}

// numbers are those of a model by these names, in this order.
func numbers(model string, names ...string) []float64 {
	return logistic.MustRead(fittedFile(model), names).Weights
}

// What speaks for a ratio: the evidence of its path, the number of beats that it takes,
// how usual the tempo is, and that it is none; a conditional logit (McFadden 1974).
type ratioWeights struct{ path, beat, tempo, unmistaken float64 }

var byRatio = func() ratioWeights {
	w := numbers("ratio", "path", "beat", "tempo", "unmistaken")
	return ratioWeights{w[0], w[1], w[2], w[3]}
}()

// What speaks for a shift: the model's evidence, the shares of bass drum and
// snare that strike there, and that it is none; a conditional logit (McFadden 1974).
type shiftWeights struct{ evidence, kick, snare, unshifted float64 }

var byShift = func() shiftWeights {
	w := numbers("shift", "evidence", "bass drum", "snare", "unshifted")
	return shiftWeights{w[0], w[1], w[2], w[3]}
}()

// PlaceNames are the names of the weights that decide places in the bar, as
// [Followed.Places] takes them: nats for tones above and in the bass, times as much of
// the bass on the first beat, nats against minor chords, for what grooves or drums say
// and for long notes of the player, and how likely the chord changes on the first beat,
// in the middle of a bar and elsewhere.
func PlaceNames() []string {
	return []string{"treble", "bass", "first bass", "rare minor", "rhythm", "long note",
		"change on first", "change in middle", "change elsewhere"}
}

// placeWeights are weights by the names of [PlaceNames].
func placeWeights(w []float64) weights {
	return weights{
		treble: w[0], bass: w[1], firstBass: w[2], rareMinor: w[3], rhythm: w[4], long: w[5],
		first: w[6], middle: w[7], elsewhere: w[8],
	}
}

// struckWeights go with drums alone, followedWeights with grooves.
var (
	struckWeights   = placeWeights(numbers("places-struck", PlaceNames()...))
	followedWeights = placeWeights(numbers("places-followed", PlaceNames()...))
)

// The models of whether bars are right, by what is told of them ([Rival]).
const (
	Agreed       = "sure-agreed"   // bars that both ways find
	SureFollowed = "sure-followed" // followed bars where the struck ones differ
	SureStruck   = "sure-struck"   // struck bars where the followed ones differ
	Alone        = "sure-alone"    // struck bars, nothing said of others
)

// SureNames are the names of what a model of sureness is told: log odds of the
// probabilities that beats and places are right (Platt 1999).
func SureNames(model string) []string {
	switch model {
	case Agreed:
		return []string{"place"}
	case SureFollowed:
		return []string{"beat", "place", "place of the struck"}
	case SureStruck:
		return []string{"beat", "place", "place of the followed"}
	}
	return []string{"beat", "place"}
}

// sureness are the models of whether bars are right, by name.
var sureness = func() map[string]logistic.Model {
	out := map[string]logistic.Model{}
	for _, model := range []string{Agreed, SureFollowed, SureStruck, Alone} {
		out[model] = logistic.MustRead(fittedFile(model), SureNames(model))
	}
	return out
}()

// Shares of the levels of attacks, softest first, strand by strand.
type Shares [strands][Levels]float64

// Grooves is the JSON form of how bands play their bars, counted in takes of them.
// Strands are what is told apart, in the order that everything else has them in; Hit are
// the shares where something begins, Rest where nothing does, Usual anywhere. The first two
// of Grooves are followed first, and so should be the commonest.
type Grooves struct {
	Model    string   `json:"model"`
	Says     string   `json:"says"`
	FittedOn []string `json:"fitted_on"` // the data, as they are made
	Strands  []string `json:"strands"`
	Hit      Shares   `json:"hit"`
	Rest     Shares   `json:"rest"`
	Usual    Shares   `json:"usual"`
	Grooves  []Groove `json:"grooves"`
}

// StrandNames are the names of what is told apart by where in the spectrum it begins,
// and of the player's notes, in the order that [Sound.Attacks] has them in.
func StrandNames() []string { return []string{"bass drum", "bass", "body", "snare", "player"} }

// readGrooves reads the file of grooves.
func readGrooves(data []byte) (Grooves, error) {
	var g Grooves
	if err := json.Unmarshal(data, &g); err != nil {
		return g, fmt.Errorf("reading grooves: %w", err)
	}
	if !slices.Equal(g.Strands, StrandNames()) {
		return g, fmt.Errorf("the grooves have the strands %q, want %q", g.Strands, StrandNames())
	}
	for _, groove := range g.Grooves {
		if len(groove.Beats) != lanes {
			return g, fmt.Errorf("the groove %s has %d beats, want %d", groove.Name, len(groove.Beats), lanes)
		}
	}
	return g, nil
}

// fittedGrooves are those of the file.
var fittedGrooves = func() Grooves {
	g, err := readGrooves(fittedFile("grooves"))
	if err != nil {
		panic(err)
	}
	return g
}()
