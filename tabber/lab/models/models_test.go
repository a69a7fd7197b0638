package models

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"blowdraw/tabber/lab/data"
	"blowdraw/tabber/lab/files"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/playing"
)

// root of the repository.
const root = "../../.."

// Every model can be fitted in some order, to sets that there are, beside what it stands
// on, and has a name and files of its own. No set is both fitted to and judged on.
func TestModels(t *testing.T) {
	all := All()
	if ordered, err := fit.Order(all); err != nil || len(ordered) != len(all) {
		t.Fatalf("%d of %d, %v", len(ordered), len(all), err)
	}
	names, paths := map[string]bool{}, map[string]bool{}
	for _, m := range all {
		if names[m.Name] || len(m.Files) == 0 {
			t.Errorf("%s: two of this name, or it has no file", m.Name)
		}
		names[m.Name] = true
		for _, f := range m.Files {
			if paths[f.Path] {
				t.Errorf("%s: another has the file %s", m.Name, f.Path)
			}
			paths[f.Path] = true
		}
		checkSets(t, m)
		for _, p := range m.On {
			if _, err := os.Stat(filepath.Join(root, p)); err != nil {
				t.Errorf("%s: %v", m.Name, err)
			}
		}
	}
}

// checkSets of a model.
func checkSets(t *testing.T, m fit.Model) {
	fitted := map[string]bool{}
	for _, set := range m.Needs {
		fitted[set] = true
		if _, err := data.Find(set); err != nil {
			t.Errorf("%s: %v", m.Name, err)
		}
	}
	for _, set := range m.Judge {
		if _, err := data.Find(set); err != nil || fitted[set] {
			t.Errorf("%s is judged on %s: %v, fitted on it: %v", m.Name, set, err, fitted[set])
		}
	}
	if len(m.Needs)+len(m.Also) == 0 {
		t.Errorf("%s is fitted to nothing", m.Name)
	}
}

// All fitted files of the program are those of the models, and say what the models say.
func TestFiles(t *testing.T) {
	listed := map[string]bool{}
	for _, m := range All() {
		for _, file := range m.Files {
			listed[file.Path] = true
			f, ok, err := fit.ReadFile(filepath.Join(root, file.Path))
			if !ok || err != nil || f.Model != file.Name || file.Says != "" && f.Says != file.Says {
				t.Errorf("%s: %v, %v, %s: %s", file.Path, ok, err, f.Model, f.Says)
			}
		}
	}
	for _, pattern := range []string{"onset/form/fitted/*.json", "tabber/lattice/*.json", "tabber/playing/models/*.json",
		"tabber/presence/*.json", "tabber/reading/*.json", "tabber/whichharp/*.json"} {
		there, err := filepath.Glob(filepath.Join(root, pattern))
		if err != nil || len(there) == 0 {
			t.Errorf("%s: %d, %v", pattern, len(there), err)
		}
		for _, path := range there {
			p, err := filepath.Rel(root, path)
			if err != nil || !listed[filepath.ToSlash(p)] {
				t.Errorf("no model has the file %s (%v)", p, err)
			}
		}
	}
}

// Every mark that a model decides is fitted.
func TestMarkNames(t *testing.T) {
	if want, got := slices.Sorted(maps.Keys(playing.Cues)), slices.Sorted(slices.Values(markNames)); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Every model was fitted with what it stands on now: the ear's weights, other models.
func TestNoneStale(t *testing.T) {
	for _, m := range All() {
		if s, err := fit.Check(root, All(), m); err != nil || s.Stale() {
			t.Errorf("%s, %v: run %s", s, err, m.Command())
		}
	}
}

// A changed byte of the ear's weights, or of a model's file, makes stale just those models
// that stand on it, and a file that is gone its model and these.
func TestChangedByte(t *testing.T) {
	all := All()
	copied := t.TempDir()
	paths := []string{ear}
	for _, m := range all {
		for _, f := range m.Files {
			paths = append(paths, f.Path)
		}
	}
	read := func(p string) []byte {
		text, err := os.ReadFile(filepath.Join(root, p))
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	put := func(p string, text []byte) {
		path := filepath.Join(copied, p)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := files.WriteBytes(path, text); err != nil {
			t.Fatal(err)
		}
	}
	stale := func() (names []string) {
		for _, m := range all {
			s, err := fit.Check(copied, all, m)
			if err != nil {
				t.Fatal(err)
			}
			if s.Stale() {
				names = append(names, m.Name)
			}
		}
		return names
	}
	for _, p := range paths {
		put(p, read(p))
	}
	if got := stale(); len(got) > 0 {
		t.Errorf("of the copies %v are stale", got)
	}
	for _, p := range paths {
		var own string
		var want []string
		for _, m := range all {
			on := slices.Contains(m.On, p)
			for _, f := range m.Files {
				if f.Path == p {
					own = m.Name
				}
			}
			for _, name := range m.After {
				other, err := fit.Find(all, name)
				if err != nil {
					t.Fatal(err)
				}
				on = on || slices.ContainsFunc(other.Files, func(f fit.File) bool { return f.Path == p })
			}
			if on {
				want = append(want, m.Name)
			}
		}
		text := read(p)
		changed := slices.Clone(text)
		if p == ear {
			changed[len(changed)/2] ^= 1
		} else {
			changed[len(changed)-1] = ' ' // after the JSON
		}
		put(p, changed)
		if got := stale(); !slices.Equal(got, want) {
			t.Errorf("a byte of %s changed: stale %v, want %v", p, got, want)
		}
		if err := os.Remove(filepath.Join(copied, p)); err != nil {
			t.Fatal(err)
		}
		if own != "" && !slices.Contains(stale(), own) {
			t.Errorf("%s is gone: %s is not stale", p, own)
		}
		put(p, text)
	}
}
