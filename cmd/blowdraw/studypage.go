package main

import (
	"fmt"
	"io"
	"slices"

	"blowdraw/tabber/render"
	"blowdraw/tabber/study"
	"blowdraw/tabber/studypage"

	"github.com/spf13/cobra"
)

// pageRate is the rate in Hz of the sound in a study's page: enough for a harp, and half as
// large as that of a record.
const pageRate = 24000

// writePage writes the page of one player or of two.
func (f *studyFlags) writePage(c *cobra.Command, all players) error {
	var shown []studypage.Player
	for i, solos := range all {
		p := studypage.Player{}
		if len(all) == 1 {
			p.Study = study.Of(all.tabs(i))
		}
		for _, s := range solos {
			x := studypage.Solo{Name: s.name, Rate: pageRate}
			if s.recording != "" {
				var err error
				if x.From, x.Samples, err = recordingOf(c, s, pageRate); err != nil {
					return err
				}
				render.Soften([][]float64{x.Samples}, pageRate)
			}
			p.Solos = append(p.Solos, x)
		}
		shown = append(shown, p)
	}
	write := func(w io.Writer) error { return studypage.Write(w, shown[0]) }
	if len(all) == 2 {
		x := study.Compare(all.tabs(0), all.tabs(1))
		shown[0].Study, shown[1].Study = x.A, x.B
		write = func(w io.Writer) error { return studypage.WriteBeside(w, shown[0], shown[1], x.Differences) }
	}
	if err := writeFile(f.html, f.force, write); err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "Written: %s. Open it in a browser.\n", f.html)
	for _, solos := range all {
		if slices.ContainsFunc(solos, func(s studied) bool { return s.recording == "" }) {
			fmt.Fprintln(c.OutOrStdout(), "What has no recording can't be heard there: --recording names it.")
			break
		}
	}
	return nil
}
