package clips

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber/lab/files"
	"blowdraw/tabber/lab/truth"
)

// Set names the clips that [Write] makes. The same set gives the same clips.
type Set struct {
	Kind  string // one of SetKinds
	Seed  int64
	Only  Kind   `json:",omitempty"` // of pairs: Octaves or Doubles, both if empty
	Song  string `json:",omitempty"` // of songs: one of SongKinds,
	Count int    `json:",omitempty"` // how many,
	Bank  string `json:",omitempty"` // the band's sound bank
	Reeds string `json:",omitempty"` // and the harp's
}

// Kinds of sets.
const (
	HardSet     = "hard"      // six clips of each category
	PositionSet = "positions" // those of [Positions]
	PairSet     = "pairs"     // those of [Pairs]: 20 clips of each kind and sort of reeds
	PlayedSet   = "played"    // those of [Played]
	SongSet     = "songs"     // those of [Songs]
)

// SetKinds lists the kinds of sets.
func SetKinds() []string { return []string{HardSet, PositionSet, PairSet, PlayedSet, SongSet} }

// truth of the clip.
func (c Clip) truth() truth.File {
	t := truth.File{
		Harp: c.Harp.Name, Layout: c.Harp.Layout.Name, Position: c.Position, Temperament: c.Temperament,
		Offset: c.Cents, Seconds: float64(len(c.Samples)) / Rate, Tier: c.Category, Source: c.Source,
		Audio: c.Name + ".wav",
	}
	for _, p := range c.Phrases {
		t.Phrases = append(t.Phrases, [2]float64{round4(p.Start), round4(p.End)})
	}
	for i, e := range c.Events {
		g := c.Gestures[i]
		v := truth.Event{
			Start: round4(e.Start), End: round4(e.End), Breath: e.Actions[0].Breath.String(),
			Texture: e.Texture, Marks: []string{},
			Levels: make([]float64, len(e.Actions)), Late: make([]float64, len(e.Actions)),
		}
		for k, a := range e.Actions {
			v.Holes = append(v.Holes, a.Hole)
			v.Bends = append(v.Bends, float64(a.Bend))
			v.MIDI = append(v.MIDI, round4(e.Pitches[k]))
			if g.Levels != nil {
				v.Levels[k] = round4(g.Levels[k])
			}
			if g.Late != nil {
				v.Late[k] = round4(g.Late[k])
			}
		}
		for _, m := range e.Marks {
			v.Marks = append(v.Marks, m.Name)
		}
		v.Scoop, v.Vib, v.Vibrate = round4(g.Scoop), round4(g.VibratoCents), round4(g.VibratoHz)
		if g.Glide > 0 {
			v.Marks = append(v.Marks, "glide")
		}
		t.Events = append(t.Events, v)
	}
	return t
}

func round4(x float64) float64 { return math.Round(x*1e4) / 1e4 }

// Write writes the clips of a set into a folder, which it makes if it is not there:
// NAME.wav and NAME.truth.json, each whole or not at all.
func Write(ctx context.Context, dir string, s Set) error {
	if !slices.Contains(SetKinds(), s.Kind) {
		return fmt.Errorf("no kind of clips %q: there are %v", s.Kind, SetKinds())
	}
	all := func(clips []Clip) error { return writeAll(dir, clips) }
	switch s.Kind {
	case SongSet:
		songs, err := Songs(ctx, s.Song, s.Count, s.Seed, s.Bank, s.Reeds)
		if err != nil {
			return err
		}
		return writeSongs(dir, songs)
	case PairSet:
		return allPairs(ctx, s.Seed, s.Only, all)
	case PlayedSet:
		clips, err := Played(ctx, s.Seed)
		if err != nil {
			return err
		}
		return all(clips)
	case PositionSet:
		return eachCategory(ctx, positions(), s.Seed, all)
	}
	return eachCategory(ctx, categories(), s.Seed, all)
}

// eachCategory makes the clips of categories and hands them on, one category at a time.
func eachCategory(ctx context.Context, categories []category, seed int64, use func([]Clip) error) error {
	b, err := openBank(BankPath)
	if err != nil {
		return err
	}
	for _, c := range categories {
		clips, err := c.clips(ctx, b, seed)
		if err != nil {
			return fmt.Errorf("making the clips %q: %w", c.name, err)
		}
		if err := use(clips); err != nil {
			return err
		}
	}
	return nil
}

func writeAll(dir string, clips []Clip) error {
	if err := makeFolder(dir); err != nil {
		return err
	}
	for _, c := range clips {
		sound := func(w io.Writer) error { return decode.WriteWAV(w, c.Clip) }
		if err := writeClip(dir, c.truth(), sound); err != nil {
			return err
		}
	}
	return nil
}

// writeSongs writes songs, of one channel or two.
func writeSongs(dir string, songs []Song) error {
	if err := makeFolder(dir); err != nil {
		return err
	}
	for _, s := range songs {
		t := s.truth()
		t.Seconds, t.Parts = s.seconds(), s.Parts
		if s.Category != lesson {
			t.HarpDB = &s.HarpDB
		}
		channels := [][]float64{s.Left}
		if s.Right != nil {
			channels = append(channels, s.Right)
		}
		sound := func(w io.Writer) error { return decode.WriteWAVChannels(w, Rate, channels) }
		if err := writeClip(dir, t, sound); err != nil {
			return err
		}
	}
	return nil
}

func makeFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("making the folder for the clips: %w", err)
	}
	return nil
}

// writeClip writes the sound and the truth beside it.
func writeClip(dir string, t truth.File, sound func(io.Writer) error) error {
	path := filepath.Join(dir, t.Audio)
	if err := files.Write(path, sound); err != nil {
		return err
	}
	return truth.Write(strings.TrimSuffix(path, ".wav")+truth.Suffix, t)
}
