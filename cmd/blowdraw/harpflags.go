package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"blowdraw/tabber/harp"

	"github.com/spf13/cobra"
)

// harpFlags say which harp is played.
type harpFlags struct{ key, layout string }

func (f *harpFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.key, "harp", "", `key of the harp: D, Bb, F#, "low F", "high G"`)
	c.Flags().StringVar(&f.layout, "layout", "richter",
		"tuning of the harp: "+layoutNames()+", or a file (see blowdraw layout --help)")
}

// parse makes the harp that the flags name.
func (f *harpFlags) parse(c *cobra.Command) (harp.Harp, error) {
	if f.key == "" {
		return harp.Harp{}, usage(c, "which harp? Give its key, such as --harp C")
	}
	l, err := f.readLayout(c)
	if err != nil {
		return harp.Harp{}, err
	}
	h, err := harp.Parse(f.key, l)
	if err != nil {
		return harp.Harp{}, usage(c, "--harp: %w", err)
	}
	return h, nil
}

// readLayout is the built-in layout of that name, or the one in that file.
func (f *harpFlags) readLayout(c *cobra.Command) (harp.Layout, error) {
	if l, err := harp.ParseLayout(f.layout); err == nil {
		return l, nil
	}
	file, err := os.Open(f.layout)
	if errors.Is(err, fs.ErrNotExist) {
		return harp.Layout{}, usage(c, "--layout %q is neither a known layout (%s) nor a file",
			f.layout, layoutNames())
	}
	if err != nil {
		return harp.Layout{}, fmt.Errorf("reading the layout: %w", err)
	}
	defer file.Close()
	l, err := harp.ReadLayout(file)
	if err != nil {
		return harp.Layout{}, fmt.Errorf("reading the layout %s: %w", f.layout, err)
	}
	return l, nil
}

func layoutNames() string {
	names := ""
	for i, l := range harp.Layouts() {
		if i > 0 {
			names += ", "
		}
		names += l.Name
	}
	return names
}
