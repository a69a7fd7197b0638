package fit

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/lab/data"
	"blowdraw/tabber/lab/files"
)

// Model is what one fit finds: the files of its numbers, what they are fitted to, and what
// has to be fitted before.
type Model struct {
	Name  string
	Files []File
	Needs []string // names of the sets of clips that it is fitted to
	Also  []string // what else it is fitted to, in words
	Judge []string // names of the sets that it is only judged on
	On    []string // paths of files that it stands on, such as the ear's weights
	After []string // names of the models that it stands on

	// Searched tells that its numbers are searched for in as many rounds as Given.Rounds,
	// which takes hours.
	Searched bool

	// Fit finds the numbers of the files, in their order. Names, rounding, checksums and
	// writing are [Run]'s. It is nil if the program that found them is not kept.
	Fit func(context.Context, Given) ([]Numbers, error)
}

// File is one of fitted numbers.
type File struct {
	Name string
	Says string // what its odds, or its numbers, are of
	Path string // from the repository's root, with slashes
}

// Given is what a model is fitted with.
type Given struct {
	Folders []string        // of the sets of clips that it is fitted to, in the order of Needs
	Judged  []string        // of those that it is only judged on, in the order of Judge
	Old     []logistic.File // its files as they are; a zero one where there is none
	Rounds  int             // of a search
	Log     io.Writer       // what is printed on the way: how right the model is
}

// Numbers are what a fit finds for a file; the weights are in the order in which the file
// has them. Those of another form than [logistic.File] are in Other, which is written as
// JSON and has no checksums; it is nil for all that have that form.
type Numbers struct {
	Constant float64
	Weights  []logistic.Weight
	Other    any
}

// Find the model of a name.
func Find(models []Model, name string) (Model, error) {
	i := slices.IndexFunc(models, func(m Model) bool { return m.Name == name })
	if i < 0 {
		var names []string
		for _, m := range models {
			names = append(names, m.Name)
		}
		return Model{}, fmt.Errorf("no model %q: there are %v", name, names)
	}
	return models[i], nil
}

// Order puts models so that each comes after those that it stands on, and otherwise as
// they are (Kahn 1962, "Topological sorting of large networks"; from memory). It is an
// error if one stands on a model that there is not, or on itself by way of others.
func Order(models []Model) ([]Model, error) {
	for _, m := range models {
		for _, name := range m.After {
			if _, err := Find(models, name); err != nil {
				return nil, fmt.Errorf("the model %s stands on another: %w", m.Name, err)
			}
		}
	}
	var out []Model
	done := map[string]bool{}
	for len(out) < len(models) {
		i := slices.IndexFunc(models, func(m Model) bool {
			return !done[m.Name] && !slices.ContainsFunc(m.After, func(name string) bool { return !done[name] })
		})
		if i < 0 {
			return nil, fmt.Errorf("models stand on each other in a circle: all but %d of %d", len(out), len(models))
		}
		done[models[i].Name] = true
		out = append(out, models[i])
	}
	return out, nil
}

// standsOn are the paths of all that a model stands on: files, and those of models.
func standsOn(models []Model, m Model) ([]string, error) {
	paths := slices.Clone(m.On)
	for _, name := range m.After {
		other, err := Find(models, name)
		if err != nil {
			return nil, err
		}
		for _, f := range other.Files {
			paths = append(paths, f.Path)
		}
	}
	return paths, nil
}

// State is what can be said of a model's files.
type State struct {
	Model   Model
	Missing []string // paths of its files that are not there
	Changed []string // paths of what it stands on that is not what it was fitted with
}

// Stale tells whether the model has to be fitted again.
func (s State) Stale() bool { return len(s.Missing) > 0 || len(s.Changed) > 0 }

func (s State) String() string {
	switch {
	case len(s.Missing) > 0:
		return fmt.Sprintf("%s: there is no %s", s.Model.Name, s.Missing[0])
	case len(s.Changed) > 0:
		return fmt.Sprintf("%s: fitted with another %s", s.Model.Name, s.Changed[0])
	}
	return s.Model.Name + ": stands"
}

// Command tells the command line that makes a stale model stand again.
func (m Model) Command() string {
	switch {
	case m.Fit == nil:
		return "blowdraw-lab fit --keep " + m.Name
	case m.Searched:
		return "blowdraw-lab fit --search 10 " + m.Name + ", or fit --keep " + m.Name
	}
	return "blowdraw-lab fit " + m.Name
}

// Check compares what a model's files say that they stand on with what lies below root.
// Files of another form than [logistic.File] only have to be there.
func Check(root string, models []Model, m Model) (State, error) {
	s := State{Model: m}
	paths, err := standsOn(models, m)
	if err != nil {
		return s, err
	}
	changed := map[string]bool{}
	for _, file := range m.Files {
		f, ok, err := ReadFile(below(root, file.Path))
		if err != nil {
			return s, err
		}
		if !ok {
			s.Missing = append(s.Missing, file.Path)
			continue
		}
		for _, p := range paths {
			// A file that is not there has no checksum, and so has changed.
			if sum, err := Checksum(below(root, p)); err != nil || f.StandsOn[p] != sum {
				changed[p] = true
			}
		}
		for p := range f.StandsOn {
			if !slices.Contains(paths, p) {
				changed[p] = true
			}
		}
	}
	for p := range changed {
		s.Changed = append(s.Changed, p)
	}
	slices.Sort(s.Changed)
	return s, nil
}

// below is the place of a path with slashes below a folder.
func below(root, path string) string { return filepath.Join(root, filepath.FromSlash(path)) }

// Lab is where models are fitted: the repository's root, all models, and the sets of clips.
type Lab struct {
	Root   string
	Models []Model
	Sets   data.Cache
	Log    io.Writer // told how right models are, and their old numbers beside the new ones
	Dry    bool      // nothing is written
	Rounds int       // of a search; 0: there is none
}

// Run fits a model, prints its old numbers beside the new ones, and writes its files. What
// it stands on must not be stale.
func (l Lab) Run(ctx context.Context, m Model) error {
	if m.Fit == nil {
		return fmt.Errorf("nothing fits the model %s: the program that found its numbers is not kept", m.Name)
	}
	if m.Searched && l.Rounds == 0 {
		return fmt.Errorf("the numbers of %s are found by a long search, in so many rounds (--search): "+
			"none are asked for", m.Name)
	}
	if err := l.grounded(m); err != nil {
		return fmt.Errorf("fitting %s: %w", m.Name, err)
	}
	given, err := l.given(ctx, m)
	if err != nil {
		return fmt.Errorf("fitting %s: %w", m.Name, err)
	}
	// What it stands on is what it is when the fit begins.
	sums, err := l.sums(m)
	if err != nil {
		return fmt.Errorf("fitting %s: %w", m.Name, err)
	}
	found, err := m.Fit(ctx, given)
	if err == nil && len(found) != len(m.Files) {
		err = fmt.Errorf("it found the numbers of %d files instead of %d", len(found), len(m.Files))
	}
	if err != nil {
		return fmt.Errorf("fitting %s: %w", m.Name, err)
	}
	on, err := m.fittedOn()
	if err != nil {
		return fmt.Errorf("fitting %s: %w", m.Name, err)
	}
	for i, file := range m.Files {
		if err := l.put(file, found[i], on, sums); err != nil {
			return err
		}
	}
	return nil
}

// Keep writes into a model's files that their numbers, which stay as they are, stand on
// what there is now.
func (l Lab) Keep(m Model) error {
	if err := l.grounded(m); err != nil {
		return fmt.Errorf("keeping %s: %w", m.Name, err)
	}
	sums, err := l.sums(m)
	if err != nil {
		return fmt.Errorf("keeping %s: %w", m.Name, err)
	}
	for _, file := range m.Files {
		path := below(l.Root, file.Path)
		f, ok, err := ReadFile(path)
		if err == nil && !ok {
			err = fmt.Errorf("there is no %s", file.Path)
		}
		if err != nil {
			return fmt.Errorf("keeping %s: %w", m.Name, err)
		}
		fmt.Fprintf(l.Log, "%s keeps its numbers\n", f.Model)
		if f.StandsOn == nil || l.Dry { // of another form
			continue
		}
		f.StandsOn = sums
		if err := WriteFile(path, f); err != nil {
			return err
		}
	}
	return nil
}

// grounded tells whether all that a model stands on stands itself.
func (l Lab) grounded(m Model) error {
	for _, name := range m.After {
		other, err := Find(l.Models, name)
		if err != nil {
			return err
		}
		s, err := Check(l.Root, l.Models, other)
		if err != nil {
			return err
		}
		if s.Stale() {
			return fmt.Errorf("it stands on %s: fit that first (%s)", s, other.Command())
		}
	}
	return nil
}

// given gets the sets of clips that a model is fitted to and judged on.
func (l Lab) given(ctx context.Context, m Model) (Given, error) {
	g := Given{Log: l.Log, Rounds: l.Rounds}
	for _, file := range m.Files {
		f, _, err := ReadFile(below(l.Root, file.Path))
		if err != nil {
			return g, err
		}
		g.Old = append(g.Old, f)
	}
	for _, sets := range []struct {
		names []string
		to    *[]string
	}{{m.Needs, &g.Folders}, {m.Judge, &g.Judged}} {
		for _, name := range sets.names {
			r, err := data.Find(name)
			if err != nil {
				return g, err
			}
			dir, err := l.Sets.Get(ctx, r)
			if err != nil {
				return g, err
			}
			*sets.to = append(*sets.to, dir)
		}
	}
	return g, nil
}

// fittedOn tells what a model is fitted to: the command lines of its sets of clips, and
// what else there is.
func (m Model) fittedOn() ([]string, error) {
	var out []string
	for _, name := range m.Needs {
		r, err := data.Find(name)
		if err != nil {
			return nil, err
		}
		out = append(out, r.Command())
	}
	return append(out, m.Also...), nil
}

// sums are the checksums of all that a model stands on.
func (l Lab) sums(m Model) (map[string]string, error) {
	paths, err := standsOn(l.Models, m)
	if err != nil {
		return nil, err
	}
	return checksums(l.Root, paths)
}

// put prints the old numbers of a file beside those that were found, and writes these.
func (l Lab) put(file File, found Numbers, on []string, sums map[string]string) error {
	path := below(l.Root, file.Path)
	if found.Other != nil {
		return l.putOther(path, file.Name, found.Other)
	}
	old, _, err := ReadFile(path)
	if err != nil {
		return err
	}
	f := logistic.File{Model: file.Name, Says: file.Says, FittedOn: on, StandsOn: sums,
		Constant: Rounded(found.Constant)}
	for _, v := range found.Weights {
		f.Weights = append(f.Weights, logistic.Weight{Name: v.Name, Value: Rounded(v.Value)})
	}
	PrintChange(l.Log, old, f)
	if l.Dry {
		return nil
	}
	return WriteFile(path, f)
}

// putOther writes numbers of another form, and prints the lines of the file that change.
func (l Lab) putOther(path, name string, numbers any) error {
	text, err := json.MarshalIndent(numbers, "", " ")
	if err != nil {
		return fmt.Errorf("writing the model %s: %w", name, err)
	}
	text = append(text, '\n')
	old, err := os.ReadFile(path)
	if err != nil {
		old = nil // a first file is all new
	}
	fmt.Fprintf(l.Log, "%s\n", name)
	printLines(l.Log, string(old), string(text))
	if l.Dry {
		return nil
	}
	return files.WriteBytes(path, text)
}
