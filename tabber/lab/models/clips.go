package models

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// onset is how far the start of an event may be off to be right, in seconds.
const onset = 0.05

// clip is one of a set with its truth.
type clip struct {
	path   string // of the truth
	number int    // among all clips of a fit
	truth  truth.File
	ref    tab.Document // the truth as a document
	sound  decode.Clip  // mono at pitch.Rate
}

// fromClips loads every clip of some folders and gives what do makes of each, one after the
// other in the order of the folders and of names.
func fromClips[T any](ctx context.Context, folders []string, do func(clip) ([]T, error)) ([]T, error) {
	var paths []string
	for _, dir := range folders {
		in, err := truth.In(dir)
		if err != nil {
			return nil, err
		}
		paths = append(paths, in...)
	}
	parts, errs := make([][]T, len(paths)), make([]error, len(paths))
	parallel.Each(len(paths), func(_, i int) {
		if errs[i] = ctx.Err(); errs[i] != nil {
			return
		}
		c, err := load(paths[i])
		c.number = i
		if err == nil {
			parts[i], err = do(c)
		}
		errs[i] = err
	})
	return slices.Concat(parts...), errors.Join(errs...)
}

// load reads a truth and its sound.
func load(path string) (clip, error) {
	c := clip{path: path}
	var err error
	if c.truth, err = truth.Read(path); err != nil {
		return c, err
	}
	if c.ref, err = c.truth.Document(); err != nil {
		return c, fmt.Errorf("reading %s: %w", path, err)
	}
	recording := filepath.Join(filepath.Dir(path), c.truth.Audio)
	c.sound, _, _, err = decode.Load(recording, decode.Options{Rate: pitch.Rate})
	return c, err
}

// heardClip is a clip as the program hears it, at the tuning that it measures there.
type heardClip struct {
	clip
	reading.Sound
	reader reading.Reader
}

// hear is what the learned ear hears of a clip.
func (c clip) hear() (heardClip, error) {
	t, err := tabber.NewTranscriber(c.ref.Harp, tabber.Options{})
	if err != nil {
		return heardClip{}, err
	}
	f, _ := t.Hear(c.sound)
	r := reading.New(c.ref.Harp, lattice.Choice{Several: true})
	return heardClip{c, reading.Sound{Clip: c.sound, Frames: f}, r}, nil
}

// fromHeard is [fromClips] for clips as they are heard.
func fromHeard[T any](ctx context.Context, folders []string, do func(heardClip) []T) ([]T, error) {
	return fromClips(ctx, folders, func(c clip) ([]T, error) {
		h, err := c.hear()
		if err != nil {
			return nil, err
		}
		return do(h), nil
	})
}

// spans that the search finds, before anything is asked about them.
func (h heardClip) spans() []lattice.Span {
	r := h.reader
	return r.Bordered(h.Frames, lattice.New(r.States, h.Frames, r.Method.Weights, nil).Best())
}
