//go:build long

package clips

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// The dry harp sounds what the truth says, on both kinds of reeds: the pitch of
// single notes by autocorrelation, and the start of each phrase by energy.
func TestHardSetSound(t *testing.T) {
	b := needBank(t)
	for _, c := range categories() {
		for i := range PerCategory {
			clip, notes, rng := c.compose(1, i)
			x, err := clip.sound(b, notes, Seconds, rng)
			if err != nil {
				t.Fatal(err)
			}
			checkPitches(t, clip, x)
			checkPhrases(t, clip, x)
		}
	}
}

// The same seed gives the same clips, another seed others, and the samples are
// within full scale.
func TestHardSetClips(t *testing.T) {
	needBank(t)
	a, err := Clips("legato", 3)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Clips("legato", 3)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Clips("legato", 4)
	if err != nil {
		t.Fatal(err)
	}
	for i := range a {
		if !slices.Equal(a[i].Samples, b[i].Samples) {
			t.Errorf("%s differs between two runs", a[i].Name)
		}
		if slices.Equal(a[i].Samples, c[i].Samples) {
			t.Errorf("%s is the same for two seeds", a[i].Name)
		}
		if len(a[i].Samples) != Seconds*Rate || a[i].Rate != Rate {
			t.Errorf("%s: %d samples at %d", a[i].Name, len(a[i].Samples), a[i].Rate)
		}
		if p := max(slices.Max(a[i].Samples), -slices.Min(a[i].Samples)); p > 0.9 || p < 0.3 {
			t.Errorf("%s: peak %g", a[i].Name, p)
		}
	}
	if _, err := Clips("no such", 1); err == nil {
		t.Error("an unknown category gives no error")
	}
}

func TestWrite(t *testing.T) {
	needBank(t)
	dir := filepath.Join(t.TempDir(), "new")
	if err := Write(context.Background(), dir, Set{Kind: HardSet, Seed: 1}); err != nil {
		t.Fatal(err)
	}
	waves, _ := filepath.Glob(filepath.Join(dir, "*.wav"))
	truths, _ := filepath.Glob(filepath.Join(dir, "*.truth.json"))
	if want := PerCategory * len(Categories()); len(waves) != want || len(truths) != want {
		t.Fatalf("%d recordings, %d truth files, want %d", len(waves), len(truths), want)
	}
	data, err := os.ReadFile(truths[0])
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"harp", "layout", "offset", "bpm", "phrases", "tier", "events"} {
		if _, ok := m[key]; !ok {
			t.Errorf("no %q in %s", key, truths[0])
		}
	}
	for _, key := range []string{"start", "end", "breath", "holes", "bends", "midi", "levels", "texture",
		"marks"} {
		if _, ok := m["events"].([]any)[0].(map[string]any)[key]; !ok {
			t.Errorf("an event has no %q", key)
		}
	}
}
