//go:build tune

package tabber

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/internal/logistic"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/score"
	"blowdraw/tabber/tab"
)

// The fit of package presence's models, over folders of songs (see DEVELOPERS.md):
//
//	go test -v -tags tune -run TestPresence -timeout 0 ./tabber -args FOLDER ...
//
// It prints the numbers to be put into presence/model.go. Every folder's clips
// count the same in sum as another's.

// block is one block of a clip and who plays there.
type block struct {
	presence.Block
	kind presence.Kind
}

const (
	edgeSeconds = 0.25 // from a change of player a block tells nothing
	leastFilled = 0.05 // share of a block that events fill for the harp's model
)

func TestPresence(t *testing.T) {
	var all []block
	for _, dir := range flag.Args() {
		all = append(all, folderBlocks(t, dir)...)
	}
	var x, rest [][]float64
	var harp, voice []bool
	for _, b := range all {
		if b.Filled > leastFilled {
			x, harp = append(x, b.Cues[:presence.HarpCues]), append(harp, b.kind == presence.Harp)
		}
		if b.kind != presence.Harp {
			rest, voice = append(rest, b.Cues), append(voice, b.kind == presence.Voice)
		}
	}
	printModel("harpModel", x, harp)
	printModel("voiceModel", rest, voice)
}

func printModel(name string, x [][]float64, right []bool) {
	constant, weights := logistic.Fit(x, right, *ridge)
	hit := 0
	for i := range x {
		z := constant
		for k, w := range weights {
			z += w * x[i][k]
		}
		if z > 0 == right[i] {
			hit++
		}
	}
	fmt.Printf("\t// %d blocks, %.3f right\n\t%s = model{%.3f, []float64{", len(x), float64(hit)/float64(len(x)), name, constant)
	_, sd := logistic.Moments(x)
	for i, w := range weights {
		if i > 0 {
			fmt.Print(", ")
		}
		fmt.Printf("%.4f", w)
		weights[i] *= sd[i]
	}
	fmt.Printf("}}\n\t// times standard deviations: %.2f\n", weights)
}

func folderBlocks(t *testing.T, dir string) []block {
	files, _ := filepath.Glob(filepath.Join(dir, "*.truth.json"))
	parts := make([][]block, len(files))
	each(len(files), func(i int) {
		b, err := clipBlocks(files[i])
		if err != nil {
			t.Error(err)
		}
		parts[i] = b
	})
	var out []block
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
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
		if t >= f.Start && t < f.End {
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

func clipBlocks(path string) ([]block, error) {
	ref, _, err := score.ReadTruth(path)
	if err != nil {
		return nil, err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var extra struct {
		Parts []struct {
			Kind       string
			Start, End float64
		}
	}
	if err := json.Unmarshal(text, &extra); err != nil {
		return nil, err
	}
	clip, _, _, err := decode.Load(filepath.Join(filepath.Dir(path), ref.Recording), decode.Options{Rate: pitch.Rate})
	if err != nil {
		return nil, err
	}
	tr, err := NewTranscriber(ref.Harp, Options{})
	if err != nil {
		return nil, err
	}
	cents := math.NaN()
	if !strings.HasPrefix(ref.Recording, "none") {
		cents = ref.TuningCents
	}
	f := tr.hear(clip, &cents)
	events := tr.events(clip, f)
	var track presence.Track
	track.Add(ref.Harp, f, clip, events)
	truth := whoPlays{ref, extra.Parts}
	var out []block
	for _, b := range track.Blocks(events) {
		if kind := truth.at(b.Time); truth.at(b.Time-edgeSeconds) == kind && truth.at(b.Time+edgeSeconds) == kind {
			out = append(out, block{b, kind})
		}
	}
	return out, nil
}
