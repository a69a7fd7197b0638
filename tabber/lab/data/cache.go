package data

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/lab/files"
)

// stampName is the file in a set's folder that has its recipe. It is written last.
const stampName = ".recipe"

// Cache is a folder that keeps sets of clips, each in a folder of its name.
type Cache struct {
	Dir  string
	Root string    // the repository's root, where python3 is run
	Log  io.Writer // told what is made

	// write makes a set's clips in a folder; nil for the usual way.
	write func(ctx context.Context, dir string, r Recipe) error
}

// stamp of a recipe: its JSON, and that of the set that it is put under.
func stamp(r Recipe) ([]byte, error) {
	type stamped struct {
		Recipe
		On *Recipe `json:",omitempty"`
	}
	s := stamped{Recipe: r}
	if r.Train != nil && r.Train.Under != "" {
		under, err := Find(r.Train.Under)
		if err != nil {
			return nil, err
		}
		s.On = &under
	}
	b, err := json.Marshal(s)
	if err != nil {
		return nil, fmt.Errorf("writing the recipe of %s: %w", r.Name, err)
	}
	return append(b, '\n'), nil
}

// Have is the folder of a set that was made by this recipe; ok is false if there is none.
func (c Cache) Have(r Recipe) (dir string, ok bool) {
	dir = filepath.Join(c.Dir, r.Name)
	want, err := stamp(r)
	if err != nil {
		return dir, false
	}
	got, err := os.ReadFile(filepath.Join(dir, stampName))
	return dir, err == nil && bytes.Equal(got, want)
}

// Get is the folder of a set, which it makes if it is not there or was made by another
// recipe. A folder of that name that holds anything else is left alone, and an error.
func (c Cache) Get(ctx context.Context, r Recipe) (string, error) {
	dir, ok := c.Have(r)
	if ok {
		return dir, nil
	}
	if err := c.free(dir); err != nil {
		return "", err
	}
	if err := os.MkdirAll(c.Dir, 0o755); err != nil {
		return "", fmt.Errorf("making the folder for sets of clips: %w", err)
	}
	temp, err := os.MkdirTemp(c.Dir, ".making-*")
	if err != nil {
		return "", fmt.Errorf("making the set %s: %w", r.Name, err)
	}
	defer os.RemoveAll(temp) // gone already once renamed
	fmt.Fprintf(c.Log, "%s\n", r.Command())
	write := c.write
	if write == nil {
		write = c.makeClips
	}
	if err := write(ctx, temp, r); err != nil {
		return "", fmt.Errorf("making the set %s: %w", r.Name, err)
	}
	s, err := stamp(r)
	if err != nil {
		return "", err
	}
	if err := files.WriteBytes(filepath.Join(temp, stampName), s); err != nil {
		return "", err
	}
	if err := errors.Join(os.Chmod(temp, 0o755), os.RemoveAll(dir), os.Rename(temp, dir)); err != nil {
		return "", fmt.Errorf("keeping the set %s: %w", r.Name, err)
	}
	return dir, nil
}

// free tells whether a set may be put into a folder: nothing is there, or an older set.
func (c Cache) free(dir string) error {
	there, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(there) == 0 {
		return nil
	}
	if err != nil {
		return fmt.Errorf("looking for a set of clips: %w", err)
	}
	if _, err := os.Stat(filepath.Join(dir, stampName)); err != nil {
		return fmt.Errorf("%s is not a set of clips made by recipe: move it away, or keep the sets elsewhere", dir)
	}
	return nil
}

// makeClips makes a set in a folder.
func (c Cache) makeClips(ctx context.Context, dir string, r Recipe) error {
	if r.Clips != nil {
		return clips.Write(ctx, dir, *r.Clips)
	}
	under, err := c.under(ctx, *r.Train)
	if err != nil {
		return err
	}
	return c.train(ctx, *r.Train, under, "", dir)
}

// PlayersUnder writes into a folder the recordings of another one, which people annotated and
// whose sound lies in a third (empty: beside them), over recorded bands.
func (c Cache) PlayersUnder(ctx context.Context, real, sound, dir string) error {
	real, err := filepath.Abs(real)
	if err == nil && sound != "" {
		sound, err = filepath.Abs(sound)
	}
	if err != nil {
		return err
	}
	return c.train(ctx, PlayersUnder(), real, sound, dir)
}

// HasRecorded tells whether the recorded sound that t takes is kept.
func (c Cache) HasRecorded(t Train) bool {
	_, err := c.recorded(t)
	return err == nil
}

// train runs the program that makes training's clips.
func (c Cache) train(ctx context.Context, t Train, under, sound, dir string) error {
	recorded, err := c.recorded(t)
	if err != nil {
		return err
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return err
	}
	run := exec.CommandContext(ctx, "python3", t.args(under, sound, recorded, dir)...)
	run.Dir = c.Root
	if out, err := run.CombinedOutput(); err != nil {
		return fmt.Errorf("running pitch/ear/train/clips.py: %w: %s", err, lastLine(out))
	}
	return nil
}

// under is the folder of the set that bands are put under; empty if there is none.
func (c Cache) under(ctx context.Context, t Train) (string, error) {
	if t.Under == "" {
		return "", nil
	}
	other, err := Find(t.Under)
	if err != nil {
		return "", err
	}
	dir, err := c.Get(ctx, other)
	if err != nil {
		return "", err
	}
	return filepath.Abs(dir)
}

// recorded is the path of excerpts of recorded sound; empty if there are none.
func (c Cache) recorded(t Train) (string, error) {
	if t.Recorded == "" {
		return "", nil
	}
	path, err := filepath.Abs(filepath.Join(c.Dir, t.Recorded))
	if err != nil {
		return "", err
	}
	if _, err := os.Stat(path + ".ul"); err != nil {
		return "", fmt.Errorf("looking for recorded sound (pitch/ear/train/README.md says how to pack it): %w", err)
	}
	return path, nil
}

// lastLine of what a program says.
func lastLine(out []byte) string {
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	return lines[len(lines)-1]
}
