package fit

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/lab/data"
)

// Model is a fitted model of the program: where its numbers lie, what they are fitted to,
// and what has to be fitted before.
type Model struct {
	Name  string
	Says  string   // what its odds, or its numbers, are of
	Path  string   // of its file, from the repository's root, with slashes
	Needs []string // names of the sets of clips that it is fitted to
	Judge []string // names of those that it is only judged on
	On    []string // paths of files that it stands on, such as the ear's weights
	After []string // names of the models that it stands on

	// Fit finds the numbers. It has no file's ado: names, rounding, checksums and writing
	// are [Run]'s.
	Fit func(context.Context, Given) (Numbers, error)
	// Until is the command that prints the numbers as long as there is no Fit.
	Until string
}

// Given is what a model is fitted with.
type Given struct {
	Folders map[string]string // of the sets of clips, by name
	Log     io.Writer         // what is printed on the way: how right the model is
}

// Numbers are what a fit finds; the weights are in the order in which the file has them.
type Numbers struct {
	Constant float64
	Weights  []logistic.Weight
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
		paths = append(paths, other.Path)
	}
	return paths, nil
}

// State is what can be said of a model's file.
type State struct {
	Model   Model
	Missing bool     // there is no file
	Changed []string // paths of what it stands on that is not what it was fitted with
}

// Stale tells whether the model has to be fitted again.
func (s State) Stale() bool { return s.Missing || len(s.Changed) > 0 }

func (s State) String() string {
	switch {
	case s.Missing:
		return fmt.Sprintf("%s: there is no %s", s.Model.Name, s.Model.Path)
	case len(s.Changed) > 0:
		return fmt.Sprintf("%s: fitted with another %s", s.Model.Name, s.Changed[0])
	}
	return s.Model.Name + ": stands"
}

// Check compares what a model's file says that it stands on with what lies below root.
func Check(root string, models []Model, m Model) (State, error) {
	s := State{Model: m}
	f, ok, err := ReadFile(filepath.Join(root, filepath.FromSlash(m.Path)))
	if err != nil {
		return s, err
	}
	if !ok {
		s.Missing = true
		return s, nil
	}
	paths, err := standsOn(models, m)
	if err != nil {
		return s, err
	}
	for _, p := range paths {
		// A file that is not there has no checksum, and so has changed.
		if sum, err := Checksum(filepath.Join(root, filepath.FromSlash(p))); err != nil || f.StandsOn[p] != sum {
			s.Changed = append(s.Changed, p)
		}
	}
	for p := range f.StandsOn {
		if !slices.Contains(paths, p) {
			s.Changed = append(s.Changed, p)
		}
	}
	slices.Sort(s.Changed)
	return s, nil
}

// Run fits a model, prints its old numbers beside the new ones, and writes its file below
// root. What it stands on must not be stale. The sets of clips are those of the cache.
func Run(ctx context.Context, w io.Writer, root string, models []Model, m Model, sets data.Cache) error {
	if m.Fit == nil {
		return fmt.Errorf("nothing here fits the model %s yet: run %s", m.Name, m.Until)
	}
	for _, name := range m.After {
		other, err := Find(models, name)
		if err != nil {
			return err
		}
		if s, err := Check(root, models, other); err != nil || s.Stale() {
			if err == nil {
				err = fmt.Errorf("%s: fit that first", s)
			}
			return fmt.Errorf("fitting %s, which stands on %s: %w", m.Name, name, err)
		}
	}
	path := filepath.Join(root, filepath.FromSlash(m.Path))
	old, _, err := ReadFile(path)
	if err != nil {
		return err
	}
	f := logistic.File{Model: m.Name, Says: m.Says}
	given := Given{Folders: map[string]string{}, Log: w}
	for _, name := range slices.Concat(m.Needs, m.Judge) {
		r, err := data.Find(name)
		if err != nil {
			return fmt.Errorf("fitting %s: %w", m.Name, err)
		}
		if given.Folders[name], err = sets.Get(ctx, r); err != nil {
			return fmt.Errorf("fitting %s: %w", m.Name, err)
		}
		if slices.Contains(m.Needs, name) {
			f.FittedOn = append(f.FittedOn, r.Command())
		}
	}
	// What it stands on is what it is when the fit begins.
	paths, err := standsOn(models, m)
	if err != nil {
		return err
	}
	if f.StandsOn, err = checksums(root, paths); err != nil {
		return fmt.Errorf("fitting %s: %w", m.Name, err)
	}
	found, err := m.Fit(ctx, given)
	if err != nil {
		return fmt.Errorf("fitting %s: %w", m.Name, err)
	}
	f.Constant = Rounded(found.Constant)
	for _, v := range found.Weights {
		f.Weights = append(f.Weights, logistic.Weight{Name: v.Name, Value: Rounded(v.Value)})
	}
	PrintChange(w, old, f)
	return WriteFile(path, f)
}

// PrintChange prints the numbers of a model's file beside those that it had. What only
// one of the two has is left blank in the other.
func PrintChange(w io.Writer, old, now logistic.File) {
	fmt.Fprintf(w, "%-24s%14s%14s%12s\n", now.Model, "old", "new", "change")
	row := func(name string, was, is *float64) {
		fmt.Fprintf(w, "%-24s", name)
		for _, v := range []*float64{was, is} {
			if v == nil {
				fmt.Fprintf(w, "%14s", "")
				continue
			}
			fmt.Fprintf(w, "%14.6g", *v)
		}
		if was != nil && is != nil {
			fmt.Fprintf(w, "%+12.2g", *is-*was)
		}
		fmt.Fprintln(w)
	}
	was := map[string]*float64{}
	if old.Model != "" {
		was[""] = &old.Constant
	}
	for i := range old.Weights {
		was[old.Weights[i].Name] = &old.Weights[i].Value
	}
	row("constant", was[""], &now.Constant)
	for i := range now.Weights {
		name := now.Weights[i].Name
		row(name, was[name], &now.Weights[i].Value)
		delete(was, name)
	}
	for _, o := range old.Weights {
		if was[o.Name] != nil {
			row(o.Name, was[o.Name], nil)
		}
	}
}
