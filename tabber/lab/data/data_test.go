package data

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/tabber/lab/clips"
)

// Every recipe has a name of its own, makes clips in one way, and is put under a set that
// there is.
func TestRecipes(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range All() {
		if seen[r.Name] {
			t.Errorf("two sets are called %s", r.Name)
		}
		seen[r.Name] = true
		if (r.Clips == nil) == (r.Train == nil) {
			t.Errorf("%s is made in no way or in two", r.Name)
		}
		if _, err := stamp(r); err != nil {
			t.Errorf("%s: %v", r.Name, err)
		}
		if found, err := Find(r.Name); err != nil || found.Command() != r.Command() {
			t.Errorf("%s: found %q, %v", r.Name, found.Command(), err)
		}
	}
	if _, err := Find("no such"); err == nil {
		t.Error("a set of no name is found")
	}
}

func TestCommand(t *testing.T) {
	for name, want := range map[string]string{
		"hard-77":      "blowdraw-lab make --seed 77 hard-77",
		"octaves-1001": "blowdraw-lab make --pairs --only octave --seed 1001 octaves-1001",
		"played-501":   "blowdraw-lab make --played --seed 501 played-501",
		"worn-2002":    "blowdraw-lab make --songs worn --count 4 --seed 2002 worn-2002",
		"worn-5003": "blowdraw-lab make --songs worn --count 8 --band " + clips.FluidBankPath +
			" --reeds " + clips.FluidBankPath +
			" --seed 5003 worn-5003",
		"made":       "python3 pitch/ear/train/clips.py --count 20 --seed 1000000007 made",
		"under-hard": "python3 pitch/ear/train/clips.py --under hard-4242 --seed 1000000021 under-hard",
		"judged-none": "python3 pitch/ear/train/clips.py --alone --recorded recorded-judge --seed 1700000509" +
			" judged-none",
	} {
		r, err := Find(name)
		if err != nil || r.Command() != want {
			t.Errorf("%s: %q, %v, want %q", name, r.Command(), err, want)
		}
	}
}

// Recordings of players that lie elsewhere are put over recorded bands by the command that is
// told, and not where there is no recorded sound.
func TestPlayersUnder(t *testing.T) {
	want := "python3 pitch/ear/train/clips.py --under REAL --sound SOUND --recorded recorded-judge --seed 1700000511 out"
	if got := PlayersCommand("out"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	c := Cache{Dir: t.TempDir(), Log: io.Discard}
	err := c.PlayersUnder(context.Background(), t.TempDir(), "", t.TempDir())
	if err == nil || !strings.Contains(err.Error(), "recorded-judge.ul") || c.HasRecorded(PlayersUnder()) {
		t.Errorf("without recorded sound: %v, has it %v", err, c.HasRecorded(PlayersUnder()))
	}
}

// A set is made once, again when its recipe changes, and never over what is not one.
func TestCache(t *testing.T) {
	dir, made := t.TempDir(), 0
	c := Cache{Dir: filepath.Join(dir, "sets"), Log: io.Discard}
	c.write = func(_ context.Context, dir string, r Recipe) error {
		made++
		return os.WriteFile(filepath.Join(dir, "clip"), []byte(r.Command()), 0o644)
	}
	r := Recipe{Name: "a", Clips: &clips.Set{Kind: clips.HardSet, Seed: 5}}
	if _, ok := c.Have(r); ok {
		t.Error("a set that was never made is there")
	}
	for range 2 {
		got, err := c.Get(context.Background(), r)
		if err != nil {
			t.Fatal(err)
		}
		if text, err := os.ReadFile(filepath.Join(got, "clip")); err != nil || string(text) != r.Command() {
			t.Errorf("%q, %v", text, err)
		}
	}
	if made != 1 {
		t.Errorf("made %d times, want once", made)
	}
	r.Clips = &clips.Set{Kind: clips.HardSet, Seed: 6}
	got, err := c.Get(context.Background(), r)
	if err != nil || made != 2 {
		t.Errorf("another seed: made %d times, %v", made, err)
	}
	if text, err := os.ReadFile(filepath.Join(got, "clip")); err != nil || string(text) != r.Command() {
		t.Errorf("another seed: %q, %v", text, err)
	}
	if left, err := os.ReadDir(c.Dir); err != nil || len(left) != 1 {
		t.Errorf("%v left, %v", left, err)
	}
}

// A set that fails is not there; a folder with something else in it stays as it is.
func TestCacheLeavesAlone(t *testing.T) {
	c := Cache{Dir: t.TempDir(), Log: io.Discard}
	broken := errors.New("broken")
	c.write = func(context.Context, string, Recipe) error { return broken }
	r := Recipe{Name: "a", Clips: &clips.Set{Kind: clips.HardSet, Seed: 5}}
	if _, err := c.Get(context.Background(), r); !errors.Is(err, broken) ||
		!strings.Contains(err.Error(), "the set a") {
		t.Errorf("%v, want the cause and the set", err)
	}
	if left, err := os.ReadDir(c.Dir); err != nil || len(left) != 0 {
		t.Errorf("%v left, %v", left, err)
	}
	mine := filepath.Join(c.Dir, "a", "mine")
	if err := os.MkdirAll(mine, 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Get(context.Background(), r); err == nil || !strings.Contains(err.Error(), "not a set") {
		t.Errorf("%v, want that it is not a set", err)
	}
	if _, err := os.Stat(mine); err != nil {
		t.Error(err)
	}
}
