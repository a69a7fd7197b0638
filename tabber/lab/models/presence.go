package models

import (
	"context"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"path/filepath"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
)

// recordedSets are harps with recorded bands, and those bands alone. Nobody said where in
// them a voice sings.
var recordedSets = []string{"rests", "people", "under-recorded"}

// whoPlays tells a harp's events from others', and voices from instruments where no harp
// plays; both are fitted to the same clips.
func whoPlays() fit.Model {
	return fit.Model{
		Name: "presence",
		Files: []fit.File{
			{Name: "harp", Says: "log odds that a harp plays an event", Path: "tabber/presence/harp.json"},
			{Name: "voice", Says: "log odds that a voice sounds in a block", Path: "tabber/presence/voice.json"},
		},
		// Songs with bands and soloists, and clips of a harp alone.
		Needs: append([]string{
			"none-5001", "solo-5001", "answer-5001", "worn-5001", "lesson-5001",
			"none-5002", "solo-5002", "answer-5002", "worn-5002", "lesson-5002",
			"worn-5003", "answer-5003", "worn-5004", "solo-5004",
			"others-5005", "others-5006", "others-5007", "none-5007", "solo-5007", "worn-5008", "answer-5008",
			"made", "hard-1", "hard-77",
		}, recordedSets...),
		On: []string{ear}, After: []string{"decision", "octave", "confidence"},
		Fit: fitPresence,
	}
}

// played is an event or a block of a clip, who plays there, and what it counts.
type played struct {
	cues   []float64
	block  bool
	kind   presence.Kind
	counts float64
}

const (
	presenceRidge = 10
	edgeSeconds   = 0.25 // from a change of player a block tells nothing
	phraseBefore  = 0.05 // before a phrase that a harp may sound,
	phraseAfter   = 0.15 // and after it
	countSeconds  = 1.0  // an event counts its seconds, at most so many,
	notHarp       = 4.0  // times so much if it is not a harp's: the clips hold fewer of these
	axisStep      = 25.0 // cents off that a clip may be heard: if it is less off the program does not hear again
)

// fitPresence prints how many cases there are and what share is right by what they count,
// among those that it was fitted to.
func fitPresence(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	all, err := fromClips(ctx, g.Folders, clip.played)
	if err != nil {
		return nil, err
	}
	var events, blocks []played
	for _, p := range all {
		if p.block {
			blocks = append(blocks, p)
		} else {
			events = append(events, p)
		}
	}
	if len(events) == 0 || len(blocks) == 0 {
		return nil, errors.New("the clips have no events, or no blocks without a harp")
	}
	return []fit.Numbers{
		numbers(tellApart(g.Log, "harp", events, presence.Harp), presence.EventCueNames()),
		numbers(tellApart(g.Log, "voice", blocks, presence.Voice), presence.BlockCueNames()),
	}, nil
}

// tellApart is the model that tells a kind of player from the rest.
func tellApart(w io.Writer, name string, all []played, kind presence.Kind) (m logistic.Model) {
	var x [][]float64
	var yes []bool
	var counts []float64
	for _, p := range all {
		x, yes, counts = append(x, p.cues), append(yes, p.kind == kind), append(counts, p.counts)
	}
	m.Constant, m.Weights = fit.FitWeighted(x, yes, counts, presenceRidge)
	hit, sum := 0.0, 0.0
	for i := range x {
		if (m.Odds(x[i]) > 0) == yes[i] {
			hit += counts[i]
		}
		sum += counts[i]
	}
	fmt.Fprintf(w, "%s: %d cases, %.4f right by what they count\n", name, len(x), hit/sum)
	return m
}

// played are the events of a clip and, where no harp plays, its blocks.
func (c clip) played() (out []played, err error) {
	e, err := hearing.Learned()
	if err != nil {
		return nil, err
	}
	f := e.Listener(c.ref.Harp, c.sound)(c.ref.TuningCents + c.axisOff())
	f.Shift(c.ref.TuningCents)
	r := reading.New(c.ref.Harp, lattice.Choice{Several: true})
	heard := r.Events(r.Read(reading.Sound{Clip: c.sound, Frames: f}, reading.Nothing()))
	for _, e := range heard {
		x := presence.EventCues(c.ref.Harp, f, c.sound, e)
		if x == nil {
			continue
		}
		p := played{cues: x, kind: c.at((e.Start + e.End) / 2), counts: min(e.End-e.Start, countSeconds)}
		if p.kind != presence.Harp {
			p.counts *= notHarp
		}
		out = append(out, p)
	}
	if slices.Contains(recordedSets, filepath.Base(filepath.Dir(c.path))) {
		return out, nil
	}
	var track presence.Track
	var events []presence.Event
	for i, h := range track.Add(c.ref.Harp, f, c.sound, heard) {
		events = append(events, presence.Event{Event: heard[i], Heard: h})
	}
	for _, b := range track.Blocks(events) {
		kind := c.at(b.Time)
		if kind != presence.Harp && c.at(b.Time-edgeSeconds) == kind && c.at(b.Time+edgeSeconds) == kind {
			out = append(out, played{cues: b.Cues, block: true, kind: kind, counts: 1})
		}
	}
	return out, nil
}

// at is who plays at a time.
func (c clip) at(t float64) presence.Kind {
	for _, p := range c.ref.Phrases {
		if t >= p.Start-phraseBefore && t < p.End+phraseAfter {
			return presence.Harp
		}
	}
	for _, p := range c.truth.Parts {
		if t >= p.Start && t < p.End && (p.Kind == "voice" || p.Kind == "speech") {
			return presence.Voice
		}
	}
	return presence.Other
}

// axisOff is by how many cents off a clip is heard: -axisStep, 0 or axisStep, by the names
// of its set and its truth.
func (c clip) axisOff() float64 {
	sum := crc32.ChecksumIEEE([]byte(filepath.Base(filepath.Dir(c.path)) + filepath.Base(c.path)))
	return axisStep * float64(int(sum%3)-1)
}
