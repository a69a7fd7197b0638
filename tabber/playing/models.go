package playing

import (
	"embed"
	"sync"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/tab"
)

// Cues names what tells each mark that a model decides, in the order of its cues.
var Cues = map[string][]string{
	tab.Scoop:       append(slideNames(), "goesOn", "several", "sure"),
	tab.Fall:        append(slideNames(), "followed", "several", "sure", "vibrato"),
	tab.Dip:         {"weight", "cents", "seconds", "rough", "vibratoShare", "vibratoTurns", "several"},
	tab.Slap:        {"height", "level", "secondHeight", "secondLevel", "oneReed", "goesOn", "dip"},
	tab.Wah:         handNames(),
	tab.HandClose:   handNames(),
	tab.HandVibrato: {"db", "levelShare", "turns", "cents", "pitchShare", "rough", "several"},
	tab.Accent:      {"louder", "elsewhere", "uneven", "several", "louderByUneven"},
	tab.Tongued:     {"dip", "gap", "partialDip", "air", "same", "sameReed", "apart"},
}

func slideNames() []string {
	return []string{"beyondReed", "weight", "cents", "seconds", "even", "rough"}
}

func handNames() []string {
	return []string{
		"slope", "seconds", "dark", "darkLoud", "soft", "spread", "uneven", "even", "joined", "several",
		"slopeBySpread", "bottom", "surely",
	}
}

//go:embed models/*.json
var modelFiles embed.FS

// models are the fitted ones by the name of the mark.
var models = sync.OnceValue(func() map[string]logistic.Model {
	out := map[string]logistic.Model{}
	for mark, cues := range Cues {
		data, err := modelFiles.ReadFile("models/" + mark + ".json")
		if err != nil {
			panic(err) // embedded
		}
		out[mark] = logistic.MustRead(data, cues)
	}
	return out
})

// sureOf is the probability of a mark, given its cues; 0 for none.
func sureOf(mark string, cues []float64) float64 {
	if cues == nil {
		return 0
	}
	return models()[mark].Probability(cues)
}
