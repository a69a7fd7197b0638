package models

import (
	"os"
	"path/filepath"
	"testing"

	"blowdraw/tabber/lab/data"
	"blowdraw/tabber/lab/fit"
)

// root of the repository.
const root = "../../.."

// Every model can be fitted in some order, to sets that there are, beside what it stands
// on, and has a name and a file of its own. No set is both fitted to and judged on.
func TestModels(t *testing.T) {
	all := All()
	if ordered, err := fit.Order(all); err != nil || len(ordered) != len(all) {
		t.Fatalf("%d of %d, %v", len(ordered), len(all), err)
	}
	names, paths := map[string]bool{}, map[string]bool{}
	for _, m := range all {
		if names[m.Name] || paths[m.Path] {
			t.Errorf("%s: two of this name or of the file %s", m.Name, m.Path)
		}
		names[m.Name], paths[m.Path] = true, true
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
		for _, p := range m.On {
			if _, err := os.Stat(filepath.Join(root, p)); err != nil {
				t.Errorf("%s: %v", m.Name, err)
			}
		}
		if (m.Fit == nil) == (m.Until == "") {
			t.Errorf("%s has to have a function or a command that fits it, and not both", m.Name)
		}
	}
}

// The file of a model that has a function is there, and fitted with what it stands on now.
func TestNoneStale(t *testing.T) {
	for _, m := range All() {
		if m.Fit == nil {
			continue
		}
		if s, err := fit.Check(root, All(), m); err != nil || s.Stale() {
			t.Errorf("%s, %v: run blowdraw-lab fit %s", s, err, m.Name)
		}
	}
}
