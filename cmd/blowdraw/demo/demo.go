// Package demo holds a recording to try blowdraw on without having one: three
// invented blues phrases on one harp, 16.5 seconds, mono WAV at 22.05 kHz, and
// what was played in them.
//
// The recording is rendered from the score in internal/scene, so the truth is
// exact and nobody's rights are touched. After a change of the score or the
// synthesizer, run go generate in this folder.
package demo

import (
	_ "embed"

	"blowdraw/cmd/blowdraw/demo/internal/scene"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

//go:generate go run ./internal/make

//go:embed demo.wav
var recording []byte

// Name is a file name for the recording.
const Name = "demo.wav"

// About tells a player what there is to hear.
const About = `An A harp in second position, so the song is in E: a slow shuffle, one harp in
a small room, no band. Three phrases with space between them. Listen for the
draw 3 and draw 4 bends in the first, the double stop on draw 4 and 5 and the
draw octave on 1 and 4 in the second, and the scoop into the last long draw 2.
The recording runs 8 cents sharp. The tune is invented and the harp is
synthesized: it is easier to hear than most records.`

// Recording is the recording as the bytes of a WAV file. The caller gets a
// copy.
func Recording() []byte { return append([]byte(nil), recording...) }

// Harp is the harp that plays.
func Harp() harp.Harp { return scene.Harp() }

// SongKey is the pitch class of the song's key: E, second position.
func SongKey() int { return harp.SongKey(Harp().Key(), 2) }

// TuningCents is how far the recording lies from A4 = 440 Hz.
const TuningCents = scene.Cents

// Truth is what was played, event by event.
func Truth() []tab.Event {
	events, _ := scene.Truth()
	return events
}

// Phrases are the phrases that were played.
func Phrases() []tab.Phrase {
	_, phrases := scene.Truth()
	return phrases
}
