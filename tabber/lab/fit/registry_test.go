package fit

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"blowdraw/decode/logistic"
)

func named(name string, after ...string) Model {
	return Model{Name: name, Files: []File{{Name: name, Path: name + ".json"}}, After: after}
}

func TestOrder(t *testing.T) {
	got, err := Order([]Model{named("c", "b", "a"), named("d"), named("b", "a"), named("a")})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, m := range got {
		names = append(names, m.Name)
	}
	if want := []string{"d", "a", "b", "c"}; !slices.Equal(names, want) {
		t.Errorf("%v, want %v", names, want)
	}
	if _, err := Order([]Model{named("a", "b"), named("b", "c"), named("c", "a"), named("d")}); err == nil ||
		!strings.Contains(err.Error(), "circle") {
		t.Errorf("a circle: %v", err)
	}
	if _, err := Order([]Model{named("a", "b")}); err == nil || !strings.Contains(err.Error(), `"b"`) {
		t.Errorf("after a model that there is not: %v", err)
	}
}

// A little world: two models of two numbers, one on the other, and a file under both. The
// upper one has two files.
func little(t *testing.T) Lab {
	l := Lab{Root: t.TempDir(), Log: io.Discard}
	if err := os.MkdirAll(filepath.Join(l.Root, "ear"), 0o755); err != nil {
		t.Fatal(err)
	}
	change(t, l.Root, "1")
	numbers := func(constants ...float64) func(context.Context, Given) ([]Numbers, error) {
		return func(_ context.Context, g Given) (out []Numbers, err error) {
			for _, c := range constants {
				out = append(out, Numbers{Constant: c,
					Weights: []logistic.Weight{{Name: "x", Value: 2.5}, {Name: "y", Value: -1.0 / 3}}})
			}
			return out, nil
		}
	}
	l.Models = []Model{
		{
			Name: "upper", Files: []File{{"most", "more", "most.json"}, {"upper", "more", "upper.json"}},
			On: []string{"ear/weights"}, After: []string{"lower"}, Fit: numbers(6, 7),
		},
		{
			Name: "lower", Files: []File{{"lower", "less", "lower.json"}}, On: []string{"ear/weights"},
			Fit: numbers(3),
		},
	}
	return l
}

// run fits a model.
func (l Lab) run(i int) error { return l.Run(context.Background(), l.Models[i]) }

func change(t *testing.T, root, weights string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(root, "ear", "weights"), []byte(weights), 0o644); err != nil {
		t.Fatal(err)
	}
}

// expect that the models are stale or not.
func expect(t *testing.T, l Lab, when string, want ...bool) {
	t.Helper()
	var got []bool
	for _, m := range l.Models {
		s, err := Check(l.Root, l.Models, m)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, s.Stale())
	}
	if !slices.Equal(got, want) {
		t.Errorf("%s: stale %v, want %v", when, got, want)
	}
}

// A model is stale until it is fitted, and again when something that it stands on changes:
// a file, or the model under it.
func TestRunAndCheck(t *testing.T) {
	l := little(t)
	expect(t, l, "at first", true, true)
	if err := l.run(0); err == nil || !strings.Contains(err.Error(), "fit that first") ||
		!strings.Contains(err.Error(), "blowdraw-lab fit lower") {
		t.Errorf("the upper one before the lower one: %v", err)
	}
	for _, i := range []int{1, 0} {
		if err := l.run(i); err != nil {
			t.Fatal(err)
		}
	}
	expect(t, l, "fitted", false, false)
	change(t, l.Root, "2")
	expect(t, l, "with other weights", true, true)
	if err := l.run(1); err != nil {
		t.Fatal(err)
	}
	expect(t, l, "the lower one again", true, false)
	if err := l.run(0); err != nil {
		t.Fatal(err)
	}
	expect(t, l, "both again", false, false)
	l.Models[1].Fit = func(context.Context, Given) ([]Numbers, error) { return []Numbers{{Constant: 4}}, nil }
	if err := l.run(1); err != nil {
		t.Fatal(err)
	}
	expect(t, l, "another lower one", true, false)
	s, err := Check(l.Root, l.Models, l.Models[0])
	if err != nil || !slices.Equal(s.Changed, []string{"lower.json"}) ||
		s.String() != "upper: fitted with another lower.json" {
		t.Errorf("%s, %v, %v", s, s.Changed, err)
	}
	if err := os.Remove(filepath.Join(l.Root, "upper.json")); err != nil {
		t.Fatal(err)
	}
	s, err = Check(l.Root, l.Models, l.Models[0])
	if err != nil || s.String() != "upper: there is no upper.json" {
		t.Errorf("one file of two removed: %s, %v", s, err)
	}
}

// What is kept has its old numbers, and stands on what there is now; it is no way around
// what it stands on.
func TestKeep(t *testing.T) {
	l := little(t)
	for _, i := range []int{1, 0} {
		if err := l.run(i); err != nil {
			t.Fatal(err)
		}
	}
	change(t, l.Root, "2")
	if err := l.Keep(l.Models[0]); err == nil || !strings.Contains(err.Error(), "fit that first") {
		t.Errorf("the upper one before the lower one: %v", err)
	}
	if err := l.Keep(l.Models[1]); err != nil {
		t.Fatal(err)
	}
	expect(t, l, "the lower one kept", true, false)
	if err := l.Keep(l.Models[0]); err != nil {
		t.Fatal(err)
	}
	expect(t, l, "both kept", false, false)
	if f, ok, err := ReadFile(filepath.Join(l.Root, "upper.json")); !ok || err != nil || f.Constant != 7 {
		t.Errorf("%+v, %v, %v", f, ok, err)
	}
}

// A dry run tells the numbers and writes nothing; numbers of another form are written as
// they are.
func TestDryAndOther(t *testing.T) {
	l := little(t)
	l.Dry = true
	var told strings.Builder
	l.Log = &told
	if err := l.run(1); err != nil || !strings.Contains(told.String(), "constant") {
		t.Errorf("%v, %q", err, told.String())
	}
	expect(t, l, "nothing written", true, true)
	l.Dry = false
	l.Models[1].On = nil
	l.Models[1].Fit = func(context.Context, Given) ([]Numbers, error) {
		return []Numbers{{Other: []int{5}}}, nil
	}
	if err := l.run(1); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(l.Root, "lower.json"))
	if want := "[\n 5\n]\n"; err != nil || string(text) != want ||
		!strings.Contains(told.String(), "+ 5\n+]\n") {
		t.Errorf("%q, %v, want %q; %s", text, err, want, told.String())
	}
}

// A fit that fails leaves the file; one that is not kept, or is a long search that nobody
// asked for, says so.
func TestRunFails(t *testing.T) {
	l := little(t)
	run := func() error { return l.run(1) }
	if err := run(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(filepath.Join(l.Root, "lower.json"))
	if err != nil {
		t.Fatal(err)
	}
	broken := errors.New("broken")
	l.Models[1].Fit = func(context.Context, Given) ([]Numbers, error) { return nil, broken }
	if err := run(); !errors.Is(err, broken) || !strings.Contains(err.Error(), "lower") {
		t.Errorf("%v", err)
	}
	l.Models[1].Fit = func(context.Context, Given) ([]Numbers, error) { return nil, nil }
	if err := run(); err == nil || !strings.Contains(err.Error(), "0 files instead of 1") {
		t.Errorf("%v", err)
	}
	if after, err := os.ReadFile(filepath.Join(l.Root, "lower.json")); err != nil ||
		!bytes.Equal(before, after) {
		t.Errorf("a failed fit changed the file: %v", err)
	}
	l.Models[1].Searched = true
	if err := run(); err == nil || !strings.Contains(err.Error(), "--search") {
		t.Errorf("%v", err)
	}
	l.Models[1].Fit, l.Models[1].Searched = nil, false
	if err := run(); err == nil || !strings.Contains(err.Error(), "not kept") {
		t.Errorf("%v", err)
	}
	l.Models[1].Fit, l.Models[1].Needs = func(context.Context, Given) ([]Numbers, error) { return nil, nil },
		[]string{"no such"}
	if err := run(); err == nil || !strings.Contains(err.Error(), "no such") {
		t.Errorf("%v", err)
	}
}

func TestPrintChange(t *testing.T) {
	old := logistic.File{Model: "rain", Constant: 1,
		Weights: []logistic.Weight{{Name: "wind", Value: 2}, {Name: "sun", Value: 4}}}
	now := logistic.File{Model: "rain", Constant: 1.5,
		Weights: []logistic.Weight{{Name: "cloud", Value: 3}, {Name: "wind", Value: 1}}}
	var b strings.Builder
	PrintChange(&b, old, now)
	want := "rain                               old           new      change\n" +
		"constant                             1           1.5        +0.5\n" +
		"cloud                                              3\n" +
		"wind                                 2             1          -1\n" +
		"sun                                  4              \n"
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}

func TestPrintLines(t *testing.T) {
	var b strings.Builder
	printLines(&b, "a\nb\nc\nd", "b\nx\nc\nd\ne")
	if want := "-a\n+x\n+e\n3 of 5 lines stay\n"; b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
}
