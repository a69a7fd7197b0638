// Package models lists the fitted models of the program for package fit - the files of
// each, the sets of clips that it is fitted to, and what it stands on - and fits them, each
// in a file of its own.
package models

import "blowdraw/tabber/lab/fit"

// ear has the weights of the learned ear.
const ear = "pitch/ear/weights.bin"

// All lists the models, those that others stand on first.
func All() []fit.Model {
	return append([]fit.Model{
		decision(), octave(), texture(), confidence(), whoPlays(), marks(), whichHarp(),
	}, barModels()...)
}
