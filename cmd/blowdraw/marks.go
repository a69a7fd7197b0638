package main

import (
	"fmt"

	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

func newMarksCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "marks",
		Short: "Explain the marks that say how a note is played",
		Long: `Explains the marks that stand behind an event in a tab and say how it is played.
You may write them yourself: a mark is kept like anything else in a tab.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			main, more := "Main marks, which transcribe writes:\n",
				"More marks, with transcribe --marks all:\n"
			for _, w := range tab.MarkWords() {
				line := fmt.Sprintf("  %-*s  %s\n", len(tab.HandVibrato), w.Name, w.Meaning)
				if w.Main {
					main += line
				} else {
					more += line
				}
			}
			_, err := fmt.Fprintf(c.OutOrStdout(), "%s\n%s", main, more)
			return err
		},
	}
}
