// Command write writes the hard set's clips, or songs, or pairs of reeds, and their
// truth into a folder:
//
//	go run ./tabber/hardset/write [-seed N] [-positions | -pairs | -played] DIR
//	go run ./tabber/hardset/write -songs KIND [-n COUNT] [-bank FILE] [-reeds FILE] [-seed N] DIR
//
// With -positions the clips are those for telling the harp, with -pairs those for
// telling one reed from two, with -played for telling how notes are played.
package main

import (
	"flag"
	"fmt"
	"os"
	"strings"

	"blowdraw/tabber/lab/clips"
)

func main() {
	seed := flag.Int64("seed", clips.DefaultSeed, "which clips; another seed, other clips")
	positions := flag.Bool("positions", false, "write every usual harp in first, second and third position instead")
	songs := flag.String("songs", "", "write songs of this kind instead: "+strings.Join(clips.SongKinds(), ", "))
	pairs := flag.Bool("pairs", false, "write lone reeds and pairs of them instead, 120 clips")
	played := flag.Bool("played", false, "write clips with ornaments instead, 30 clips")
	n := flag.Int("n", 4, "how many songs")
	bank := flag.String("bank", clips.BankPath, "sound bank of the songs' band")
	reeds := flag.String("reeds", clips.BankPath, "sound bank of the songs' harp")
	flag.Usage = func() {
		fmt.Fprintln(os.Stderr, "usage: go run ./tabber/hardset/write [-seed N] [-positions | -pairs | -played | -songs KIND] DIR")
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() != 1 || *positions && *songs != "" {
		flag.Usage()
		os.Exit(2)
	}
	var err error
	switch {
	case *positions:
		err = clips.WritePositions(flag.Arg(0), *seed)
	case *pairs:
		err = clips.WritePairs(flag.Arg(0), *seed)
	case *played:
		err = clips.WritePlayed(flag.Arg(0), *seed)
	case *songs != "":
		err = writeSongs(flag.Arg(0), *songs, *n, *bank, *reeds, *seed)
	default:
		err = clips.WriteSeed(flag.Arg(0), *seed)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "write:", err)
		os.Exit(1)
	}
}

func writeSongs(dir, kind string, n int, bank, reeds string, seed int64) error {
	all, err := clips.Songs(kind, n, seed, bank, reeds)
	if err != nil {
		return err
	}
	return clips.WriteSongs(dir, all)
}
