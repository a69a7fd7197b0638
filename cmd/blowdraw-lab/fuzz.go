package main

import (
	"time"

	"blowdraw/tabber/lab/fuzzing"

	"github.com/spf13/cobra"
)

func newFuzzCommand() *cobra.Command {
	var long time.Duration
	var root string
	c := &cobra.Command{
		Use:   "fuzz [TARGET]...",
		Short: "Run the fuzz targets, and tell how many inputs each tried",
		Long: `Runs the fuzz targets of the repository, all or those named, one after the other
on one worker, each for --for. Prints for each how long it ran, how many inputs it
tried and how many of them reached code as none before did. A target that finds
something is told in the end; its input lies in testdata/fuzz.`,
		Example: `  blowdraw-lab fuzz --for 10s
  blowdraw-lab fuzz --for 10m FuzzReadLayout FuzzParseToken`,
		RunE: func(c *cobra.Command, names []string) error {
			list, err := fuzzing.Targets(root, names...)
			if err != nil {
				return err
			}
			if len(list) < len(names) || len(list) == 0 {
				return usage(c, "there are not all of these targets: %q", names)
			}
			return fuzzing.Print(c.Context(), c.OutOrStdout(), root, list, long)
		},
	}
	c.Flags().DurationVar(&long, "for", 10*time.Second, "how long each target runs")
	c.Flags().StringVar(&root, "root", ".", "`FOLDER` of the repository")
	return c
}
