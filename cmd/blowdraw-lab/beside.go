package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"blowdraw/tabber/lab/measure"
)

// measure gives the means of each folder's clips, by the program as it is now.
func (p program) measure(ctx context.Context, folders []string) ([]measure.Means, error) {
	temp, err := os.MkdirTemp("", "blowdraw-lab-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(temp)
	p.stdout = io.Discard // what it prints is in the file
	var out []measure.Means
	for i, dir := range folders {
		path := filepath.Join(temp, fmt.Sprintf("%d.json", i))
		if err := p.run(ctx, "measure", "--tiers", "--means", path, dir); err != nil {
			return nil, err
		}
		m, err := measure.ReadMeans(path)
		if err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	return out, nil
}

// printBeside prints the means of a folder before and after, and by how much they differ.
func printBeside(w io.Writer, dir string, before, after measure.Means) {
	for _, t := range []struct {
		when  string
		means measure.Means
	}{{"before", before}, {"now", after}, {"change", after.Minus(before)}} {
		fmt.Fprintf(w, "\n%s, %s\n\n", dir, t.when)
		t.means.Print(w)
	}
}
