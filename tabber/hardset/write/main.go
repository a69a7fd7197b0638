// Command write writes the hard set's clips and their truth into a folder:
//
//	go run ./tabber/hardset/write [-seed N] DIR
package main

import (
	"flag"
	"fmt"
	"os"

	"blowdraw/tabber/hardset"
)

func main() {
	seed := flag.Int64("seed", hardset.DefaultSeed, "which clips; another seed, other clips")
	flag.Usage = func() {
		fmt.Fprintln(os.Stderr, "usage: go run ./tabber/hardset/write [-seed N] DIR")
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() != 1 {
		flag.Usage()
		os.Exit(2)
	}
	if err := hardset.WriteSeed(flag.Arg(0), *seed); err != nil {
		fmt.Fprintln(os.Stderr, "write:", err)
		os.Exit(1)
	}
}
