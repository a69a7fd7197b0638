package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// demoTab is the file name of the demo's tab.
const demoTab = "demo.tab"

func newDemoCommand() *cobra.Command {
	var dir, ear string
	var force bool
	c := &cobra.Command{
		Use:   "demo",
		Short: "Transcribe a short recording that comes with the program",
		Long: `Transcribes a recording that comes with the program and says what it is. With
--dir the recording and its tab are also written into that folder, to listen to
and to edit. Start listening with the volume low.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return runDemo(c, dir, ear, force)
		},
	}
	c.Flags().StringVar(&dir, "dir", "", "also write the recording and the tab into this folder")
	c.Flags().StringVar(&ear, "ear", "learned", "how to listen: learned, or classical (single notes only)")
	c.Flags().BoolVar(&force, "force", false, "overwrite files")
	return c
}

func runDemo(c *cobra.Command, dir, ear string, force bool) error {
	if err := checkEar(c, ear); err != nil {
		return err
	}
	if _, err := os.Stat(dir); err == nil {
		for _, name := range []string{demo.Name, demoTab} {
			if err := checkWritable(filepath.Join(dir, name), force); err != nil {
				return err
			}
		}
	}
	temp, err := os.MkdirTemp("", "blowdraw-demo")
	if err != nil {
		return fmt.Errorf("preparing the demo: %w", err)
	}
	defer os.RemoveAll(temp)
	path := filepath.Join(temp, demo.Name)
	if err := os.WriteFile(path, demo.Recording(), 0o600); err != nil {
		return fmt.Errorf("preparing the demo: %w", err)
	}
	d, err := transcribeAs(c.Context(), c.ErrOrStderr(), path, demo.Name, demo.Harp(),
		decode.Options{Rate: pitch.Rate}, tabber.Options{Ear: ear})
	if err != nil {
		return err
	}
	d.SongKey, d.SongAssumed, d.Ear, d.Channel = demo.SongKey(), false, ear, "mix"
	if dir != "" {
		if err := writeDemo(dir, d, force); err != nil {
			return err
		}
	}
	out := c.OutOrStdout()
	fmt.Fprintf(out, "%s\n\n", demo.About)
	if err := tab.WriteText(out, d); err != nil || dir == "" {
		return err
	}
	_, err = fmt.Fprintf(out, "\nWritten: %s, %s\n",
		filepath.Join(dir, demo.Name), filepath.Join(dir, demoTab))
	return err
}

// writeDemo puts the recording and its tab into a folder.
func writeDemo(dir string, d tab.Document, force bool) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return cannotWrite(dir, err)
	}
	err := writeFile(filepath.Join(dir, demo.Name), force, func(w io.Writer) error {
		_, err := w.Write(demo.Recording())
		return err
	})
	if err != nil {
		return err
	}
	return writeFile(filepath.Join(dir, demoTab), force,
		func(w io.Writer) error { return tab.WriteText(w, d) })
}
