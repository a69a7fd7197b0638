package main

import (
	"slices"
	"strings"

	"blowdraw/tabber/lab/clips"

	"github.com/spf13/cobra"
)

// makeFlags are what the make command can be told.
type makeFlags struct {
	seed                     int64
	positions, pairs, played bool
	only, songs              string
	count                    int
	bank, reeds              string
}

func newMakeCommand() *cobra.Command {
	var f makeFlags
	c := &cobra.Command{
		Use:   "make FOLDER",
		Short: "Write clips with exactly known truth",
		Long: `Writes clips and their truth into a folder: NAME.wav and NAME.truth.json. The
same flags give the same clips. Without a flag that says which, they are the hard
set: six clips of 20 s of each kind of difficulty.

Needs FluidSynth and the sound banks of Debian's timgm6mb-soundfont and
fluid-soundfont-gm.`,
		Example: `  blowdraw-lab make --seed 99 hard-99
  blowdraw-lab make --songs worn --count 5 --seed 1001 worn-1001`,
		Args: oneFolder,
		RunE: func(c *cobra.Command, args []string) error {
			set, err := f.set(c)
			if err != nil {
				return err
			}
			return clips.Write(c.Context(), args[0], set)
		},
	}
	c.Flags().Int64Var(&f.seed, "seed", 1, "which clips; another seed, other clips")
	c.Flags().BoolVar(&f.positions, "positions", false, "every usual harp in first, second and third position")
	c.Flags().BoolVar(&f.pairs, "pairs", false, "lone reeds and pairs of them, 120 clips")
	c.Flags().StringVar(&f.only, "only", "", "of --pairs: octave or double only")
	c.Flags().BoolVar(&f.played, "played", false, "playing with ornaments, 30 clips")
	c.Flags().StringVar(&f.songs, "songs", "", "songs of this `KIND`: "+strings.Join(clips.SongKinds(), ", "))
	c.Flags().IntVar(&f.count, "count", 4, "how many songs")
	c.Flags().StringVar(&f.bank, "band", clips.BankPath, "sound bank `FILE` of the songs' band")
	c.Flags().StringVar(&f.reeds, "reeds", clips.BankPath, "sound bank `FILE` of the songs' harp")
	return c
}

// set that the flags ask for.
func (f *makeFlags) set(c *cobra.Command) (clips.Set, error) {
	s := clips.Set{Kind: clips.HardSet, Seed: f.seed}
	if err := atMostOne(c, "positions", "pairs", "played", "songs"); err != nil {
		return s, err
	}
	if !c.Flags().Changed("songs") {
		for _, name := range []string{"count", "band", "reeds"} {
			if c.Flags().Changed(name) {
				return s, usage(c, "--%s is for --songs only", name)
			}
		}
	}
	if only := clips.Kind(f.only); f.only != "" && (!f.pairs || only != clips.Octaves && only != clips.Doubles) {
		return s, usage(c, "--only is octave or double, with --pairs")
	}
	switch {
	case f.positions:
		s.Kind = clips.PositionSet
	case f.pairs:
		s.Kind, s.Only = clips.PairSet, clips.Kind(f.only)
	case f.played:
		s.Kind = clips.PlayedSet
	case c.Flags().Changed("songs"):
		if !slices.Contains(clips.SongKinds(), f.songs) {
			return s, usage(c, "no kind of song %q: there are %s", f.songs, strings.Join(clips.SongKinds(), ", "))
		}
		if f.count < 1 {
			return s, usage(c, "--count %d: want at least one song", f.count)
		}
		s = clips.Set{Kind: clips.SongSet, Seed: f.seed, Song: f.songs, Count: f.count, Bank: f.bank,
			Reeds: f.reeds}
	}
	return s, nil
}
