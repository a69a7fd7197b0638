package models

import (
	"context"
	"fmt"

	"blowdraw/decode/logistic"
	"blowdraw/onset/form"
	"blowdraw/tabber/lab/bars"
	"blowdraw/tabber/lab/fit"
)

// barModels find bars: how bands play theirs, by what beats are mistaken, what tells places
// in the bar, and how sure bars are. They stand on no ear. The programs that fitted three of
// them are not kept.
func barModels() []fit.Model {
	lost := func(name, says string, after ...string) fit.Model {
		return fit.Model{Name: name, Files: []fit.File{barFile(name, says)}, After: after,
			Also: []string{"generated bands; the program that fitted it is not kept"}}
	}
	sureness := fit.Model{
		Name: "sureness", Also: bars.WeightTakes(), Fit: fitSureness,
		After: []string{"grooves", "ratio", "shift", "places-struck", "places-followed"},
	}
	says := map[string]string{
		form.Agreed:       "that bars are right which both ways find",
		form.SureFollowed: "that followed bars are right where the struck ones differ",
		form.SureStruck:   "that struck bars are right where the followed ones differ",
		form.Alone:        "that struck bars are right, nothing said of followed ones",
	}
	for _, name := range bars.SureModels {
		sureness.Files = append(sureness.Files, barFile(name, says[name]))
	}
	return []fit.Model{
		{Name: "grooves", Files: []fit.File{barFile("grooves", "")}, Also: bars.GrooveTakes(), Fit: fitGrooves},
		lost("ratio", "conditional logit: by which ratio the length of beats is mistaken", "grooves"),
		lost("shift", "conditional logit: which part of a beat beats are off by", "grooves"),
		lost("places-struck", "what a beat's sound says for its place in the bar and its chord, grooves not followed"),
		{
			Name: "places-followed",
			Files: []fit.File{barFile("places-followed",
				"what a beat's sound says for its place in the bar and its chord, grooves followed")},
			Also: bars.WeightTakes(), After: []string{"grooves", "ratio"}, Fit: fitPlaces,
		},
		sureness,
	}
}

func barFile(name, says string) fit.File {
	return fit.File{Name: name, Says: says, Path: "onset/form/fitted/" + name + ".json"}
}

// progress prints what the fit of bars tells on its way.
func progress(g fit.Given) func(string) { return func(s string) { fmt.Fprintln(g.Log, s) } }

func fitGrooves(_ context.Context, g fit.Given) ([]fit.Numbers, error) {
	grooves, err := bars.FitGrooves(progress(g))
	return []fit.Numbers{{Other: grooves}}, err
}

func fitPlaces(_ context.Context, g fit.Given) ([]fit.Numbers, error) {
	w, err := bars.FitPlaces(progress(g))
	if err != nil {
		return nil, err
	}
	return []fit.Numbers{numbers(logistic.Model{Weights: w}, form.PlaceNames())}, nil
}

func fitSureness(_ context.Context, g fit.Given) ([]fit.Numbers, error) {
	models, err := bars.FitSureness(progress(g))
	if err != nil {
		return nil, err
	}
	var out []fit.Numbers
	for i, m := range models {
		out = append(out, numbers(m, form.SureNames(bars.SureModels[i])))
	}
	return out, nil
}
