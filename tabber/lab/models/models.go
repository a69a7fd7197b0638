// Package models lists the fitted models of the program for package fit: the file of each,
// the sets of clips that it is fitted to, and what it stands on.
//
// A model whose Fit is nil is still fitted by the test that Until names, and its numbers
// lie in Go code; its Path is where its file will be. The function of each belongs into a
// file of its own in this package.
package models

import (
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/tab"
)

// ear has the weights of the learned ear.
const ear = "pitch/ear/weights.bin"

// All lists the models, those that others stand on first.
func All() []fit.Model {
	return append([]fit.Model{method(), octave(), texture(), calibration(), harpPlays(), voiceSounds(),
		whichHarp()}, marks()...)
}

// test is the command of a fitting test over the sets of a model.
func test(name, folder string) string {
	return "go test -v -tags tune -run " + name + " -timeout 0 " + folder + " -args FOLDER ..."
}

// method are the weights and priors of the search for the likeliest playing.
func method() fit.Model {
	return fit.Model{
		Name: "method", Says: "how evidence and habits of playing weigh, in log odds", Path: "tabber/method.json",
		Needs: []string{"hard-1", "hard-77"}, On: []string{ear},
		Until: test("TestTune", "./tabber"),
	}
}

// octave tells an octave from its lower reed alone.
func octave() fit.Model {
	return fit.Model{
		Name: "octave", Says: "that a note is an octave and not its lower reed alone", Path: "tabber/octave.json",
		Needs: []string{"octaves-1001", "under-octaves", "hard-77", "hard-4242"}, On: []string{ear},
		After: []string{"method"},
		Until: test("TestFitOctave", "./tabber"),
	}
}

// texture tells one reed, two neighbours, a split and a chord apart.
func texture() fit.Model {
	return fit.Model{
		Name: "texture", Says: "which texture an event has", Path: "tabber/texture.json",
		Needs: []string{"octaves-1001", "doubles-1001", "under-octaves", "hard-77", "hard-4242", "made-few"},
		On:    []string{ear}, After: []string{"method", "octave"},
		Until: test("TestFitTexture", "./tabber"),
	}
}

// calibration is how sure an event is.
func calibration() fit.Model {
	return fit.Model{
		Name: "calibration", Says: "that an event is right", Path: "tabber/calibration.json",
		Needs: []string{"hard-1", "hard-77", "hard-4242", "made", "under-hard"},
		On:    []string{ear}, After: []string{"method", "octave"},
		Until: test("TestCalibrate", "./tabber"),
	}
}

// presenceSets are songs with bands and soloists, and clips of a harp alone.
func presenceSets() []string {
	return []string{
		"none-5001", "solo-5001", "answer-5001", "worn-5001", "lesson-5001",
		"none-5002", "solo-5002", "answer-5002", "worn-5002", "lesson-5002",
		"worn-5003", "answer-5003", "worn-5004", "solo-5004",
		"others-5005", "others-5006", "others-5007", "none-5007", "solo-5007", "worn-5008", "answer-5008",
		"made", "hard-1", "hard-77",
	}
}

// harpPlays tells a harp's events from others'.
func harpPlays() fit.Model {
	return fit.Model{
		Name: "harp", Says: "that a harp plays an event", Path: "tabber/presence/harp.json",
		Needs: presenceSets(), On: []string{ear}, After: []string{"method", "octave", "texture", "calibration"},
		Until: test("TestPresence", "./tabber"),
	}
}

// voiceSounds tells voices from instruments where no harp plays.
func voiceSounds() fit.Model {
	return fit.Model{
		Name: "voice", Says: "that a voice sounds where no harp plays", Path: "tabber/presence/voice.json",
		Needs: presenceSets(), On: []string{ear}, After: []string{"method", "octave", "texture", "calibration"},
		Until: test("TestPresence", "./tabber"),
	}
}

// whichHarp weighs what speaks for a harp.
func whichHarp() fit.Model {
	return fit.Model{
		Name: "which-harp", Says: "how what speaks for a harp weighs", Path: "tabber/whichharp/weights.json",
		Needs: []string{"positions-501", "hard-8801", "under-positions"}, On: []string{ear},
		After: []string{"method"},
		Until: test("TestFit", "./tabber/whichharp"),
	}
}

// marks tell whether an event has a mark, by its cues; of tongued, whether the breath goes
// on tongued rather than legato.
func marks() []fit.Model {
	var out []fit.Model
	for _, name := range []string{
		tab.Scoop, tab.Fall, tab.Dip, tab.Slap, tab.Wah, tab.HandClose, tab.HandVibrato, tab.Tongued, tab.Accent,
	} {
		out = append(out, fit.Model{
			Name: "mark-" + name, Says: "that an event has the mark " + name, Path: "tabber/marks/" + name + ".json",
			Needs: []string{"played-501", "played-502", "played-503", "played-504"},
			Judge: []string{"played-601", "played-602"},
			On:    []string{ear}, After: []string{"method", "octave", "calibration", "harp", "voice"},
			Until: test("TestFitCues", "./tabber"),
		})
	}
	return out
}
