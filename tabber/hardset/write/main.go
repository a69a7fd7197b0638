// Command write writes the hard set's clips, or songs, and their truth into a
// folder:
//
//	go run ./tabber/hardset/write [-seed N] DIR
//	go run ./tabber/hardset/write -songs KIND [-n COUNT] [-bank FILE] [-seed N] DIR
package main

import (
	"flag"
	"fmt"
	"os"
	"strings"

	"blowdraw/tabber/hardset"
)

func main() {
	seed := flag.Int64("seed", hardset.DefaultSeed, "which clips; another seed, other clips")
	songs := flag.String("songs", "", "write songs of this kind instead: "+strings.Join(hardset.SongKinds(), ", "))
	n := flag.Int("n", 4, "how many songs")
	bank := flag.String("bank", hardset.BankPath, "sound bank of the songs' band")
	flag.Usage = func() {
		fmt.Fprintln(os.Stderr, "usage: go run ./tabber/hardset/write [-seed N] [-songs KIND] DIR")
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() != 1 {
		flag.Usage()
		os.Exit(2)
	}
	if err := write(flag.Arg(0), *songs, *n, *bank, *seed); err != nil {
		fmt.Fprintln(os.Stderr, "write:", err)
		os.Exit(1)
	}
}

func write(dir, songs string, n int, bank string, seed int64) error {
	if songs == "" {
		return hardset.WriteSeed(dir, seed)
	}
	all, err := hardset.Songs(songs, n, seed, bank)
	if err != nil {
		return err
	}
	return hardset.WriteSongs(dir, all)
}
