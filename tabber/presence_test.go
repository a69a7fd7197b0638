//go:build tune

package tabber

import (
	"encoding/json"
	"flag"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"testing"
	"time"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"

	"gonum.org/v1/gonum/floats"
)

// The fit of package presence's models, over folders of songs and clips (see
// DEVELOPERS.md):
//
//	go test -v -tags tune -run TestPresence -timeout 0 ./tabber -args -ridge 10 FOLDER ...
//
// It prints the numbers to be put into presence/model.go. They hold for the ear's
// weights of the day: with other weights, fit again.

// who is an event or a block of a clip, who plays there, and what it counts.
type who struct {
	cues   []float64
	kind   presence.Kind
	counts float64
}

const (
	edgeSeconds  = 0.25 // from a change of player a block tells nothing
	phraseSlack  = 0.05 // before and after a phrase that a harp may sound
	countSeconds = 1.0  // an event counts its seconds, at most so many,
	notHarp      = 4.0  // times so much if it is not a harp's: the folders hold fewer of these
)

func TestPresence(t *testing.T) {
	start := time.Now()
	var events, blocks []who
	for _, dir := range flag.Args() {
		e, b := folderCases(t, dir)
		events, blocks = append(events, e...), append(blocks, b...)
	}
	printModel("harpModel", events, presence.Harp)
	printModel("voiceModel", blocks, presence.Voice)
	t.Logf("%.0f s", time.Since(start).Seconds())
}

// printModel fits and prints a model that tells a kind from the rest.
func printModel(name string, cases []who, kind presence.Kind) {
	var x [][]float64
	var yes []bool
	var counts []float64
	for _, c := range cases {
		x, yes, counts = append(x, c.cues), append(yes, c.kind == kind), append(counts, c.counts)
	}
	constant, weights := fit.FitWeighted(x, yes, counts, *ridge)
	hit, all := 0.0, 0.0
	for i := range x {
		if (constant+floats.Dot(weights, x[i]) > 0) == yes[i] {
			hit += counts[i]
		}
		all += counts[i]
	}
	fmt.Printf("\t// %d cases, %.4f right by what they count\n\t%s = model{%.4f, []float64{", len(x), hit/all, name, constant)
	for i, w := range weights {
		if i%8 == 0 {
			fmt.Print("\n\t\t")
		} else {
			fmt.Print(" ")
		}
		fmt.Printf("%.5g,", w)
	}
	fmt.Println("\n\t}}")
}

// folderCases are the events and, where no harp plays, the blocks of a folder's clips.
func folderCases(t *testing.T, dir string) (events, blocks []who) {
	files, _ := filepath.Glob(filepath.Join(dir, "*.truth.json"))
	type part struct{ events, blocks []who }
	parts := make([]part, len(files))
	each(len(files), func(i int) {
		var err error
		if parts[i].events, parts[i].blocks, err = clipCases(files[i]); err != nil {
			t.Error(err)
		}
	})
	for _, p := range parts {
		events, blocks = append(events, p.events...), append(blocks, p.blocks...)
	}
	return events, blocks
}

// whoPlays is who plays when, from a truth file.
type whoPlays struct {
	ref   tab.Document
	parts []struct {
		Kind       string
		Start, End float64
	}
}

// at is who plays at a time.
func (p whoPlays) at(t float64) presence.Kind {
	for _, f := range p.ref.Phrases {
		if t >= f.Start-phraseSlack && t < f.End+besideSeconds {
			return presence.Harp
		}
	}
	for _, s := range p.parts {
		if t >= s.Start && t < s.End && (s.Kind == "voice" || s.Kind == "speech") {
			return presence.Voice
		}
	}
	return presence.Other
}

// axisOff is by how many cents off a clip is heard, since the program does not hear
// again if the tuning is less off than that: one of -25, 0, 25, by its path.
func axisOff(path string) float64 {
	sum := crc32.ChecksumIEEE([]byte(filepath.Base(filepath.Dir(path)) + filepath.Base(path)))
	return 25 * float64(int(sum%3)-1)
}

func clipCases(path string) (events, blocks []who, err error) {
	ref, _, err := score.ReadTruth(path)
	if err != nil {
		return nil, nil, err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	var extra struct {
		Parts []struct {
			Kind       string
			Start, End float64
		}
	}
	if err := json.Unmarshal(text, &extra); err != nil {
		return nil, nil, err
	}
	clip, _, _, err := decode.Load(filepath.Join(filepath.Dir(path), ref.Recording), decode.Options{Rate: pitch.Rate})
	if err != nil {
		return nil, nil, err
	}
	tr, err := NewTranscriber(ref.Harp, Options{})
	if err != nil {
		return nil, nil, err
	}
	f := tr.learned.Hear(clip.Samples, clip.Start, tr.axis(ref.TuningCents+axisOff(path)))
	f.Shift(ref.TuningCents)
	heard, _ := tr.events(clip, f, always)
	truth := whoPlays{ref, extra.Parts}
	for _, e := range heard {
		if x := presence.EventCues(ref.Harp, f, clip, e); x != nil {
			c := who{x, truth.at((e.Start + e.End) / 2), min(e.End-e.Start, countSeconds)}
			if c.kind != presence.Harp {
				c.counts *= notHarp
			}
			events = append(events, c)
		}
	}
	var track presence.Track
	track.Add(ref.Harp, f, clip, heard)
	for _, b := range track.Blocks(heard) {
		kind := truth.at(b.Time)
		if kind != presence.Harp && truth.at(b.Time-edgeSeconds) == kind && truth.at(b.Time+edgeSeconds) == kind {
			blocks = append(blocks, who{b.Cues, kind, 1})
		}
	}
	return events, blocks, nil
}
