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
	"blowdraw/tabber/lab/data"
)

func named(name string, after ...string) Model {
	return Model{Name: name, Path: name + ".json", After: after}
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

// A little world: two models of two numbers, one on the other, and a file under both.
func twoModels(t *testing.T) (root string, models []Model) {
	root = t.TempDir()
	if err := os.MkdirAll(filepath.Join(root, "ear"), 0o755); err != nil {
		t.Fatal(err)
	}
	change(t, root, "1")
	numbers := func(constant float64) func(context.Context, Given) (Numbers, error) {
		return func(_ context.Context, g Given) (Numbers, error) {
			return Numbers{constant, []logistic.Weight{{Name: "x", Value: 2.5}, {Name: "y", Value: -1.0 / 3}}}, nil
		}
	}
	return root, []Model{
		{Name: "upper", Says: "more", Path: "upper.json", On: []string{"ear/weights"}, After: []string{"lower"},
			Fit: numbers(7)},
		{Name: "lower", Says: "less", Path: "lower.json", On: []string{"ear/weights"}, Fit: numbers(3)},
	}
}

func change(t *testing.T, root, weights string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(root, "ear", "weights"), []byte(weights), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A model is stale until it is fitted, and again when something that it stands on changes:
// a file, or the model under it.
func TestRunAndCheck(t *testing.T) {
	root, models := twoModels(t)
	stale := func() (out []bool) {
		for _, m := range models {
			s, err := Check(root, models, m)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, s.Stale())
		}
		return out
	}
	run := func(i int) error {
		return Run(context.Background(), io.Discard, root, models, models[i],
			data.Cache{})
	}
	expect := func(when string, want ...bool) {
		t.Helper()
		if got := stale(); !slices.Equal(got, want) {
			t.Errorf("%s: stale %v, want %v", when, got, want)
		}
	}
	expect("at first", true, true)
	if err := run(0); err == nil || !strings.Contains(err.Error(), "fit that first") {
		t.Errorf("the upper one before the lower one: %v", err)
	}
	for _, i := range []int{1, 0} {
		if err := run(i); err != nil {
			t.Fatal(err)
		}
	}
	expect("fitted", false, false)
	change(t, root, "2")
	expect("with other weights", true, true)
	if err := run(1); err != nil {
		t.Fatal(err)
	}
	expect("the lower one again", true, false)
	if err := run(0); err != nil {
		t.Fatal(err)
	}
	expect("both again", false, false)
	models[1].Fit = func(context.Context, Given) (Numbers, error) { return Numbers{Constant: 4}, nil }
	if err := run(1); err != nil {
		t.Fatal(err)
	}
	expect("another lower one", true, false)
	s, err := Check(root, models, models[0])
	if err != nil || !slices.Equal(s.Changed, []string{"lower.json"}) ||
		s.String() != "upper: fitted with another lower.json" {
		t.Errorf("%s, %v, %v", s, s.Changed, err)
	}
}

// A fit that fails leaves the file; without a function it says what to run instead.
func TestRunFails(t *testing.T) {
	root, models := twoModels(t)
	run := func() error { return Run(context.Background(), io.Discard, root, models, models[1], data.Cache{}) }
	if err := run(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(filepath.Join(root, "lower.json"))
	if err != nil {
		t.Fatal(err)
	}
	broken := errors.New("broken")
	models[1].Fit = func(context.Context, Given) (Numbers, error) { return Numbers{}, broken }
	if err := run(); !errors.Is(err, broken) || !strings.Contains(err.Error(), "lower") {
		t.Errorf("%v", err)
	}
	if after, err := os.ReadFile(filepath.Join(root, "lower.json")); err != nil || !bytes.Equal(before, after) {
		t.Errorf("a failed fit changed the file: %v", err)
	}
	models[1].Fit, models[1].Until = nil, "go test"
	if err := run(); err == nil || !strings.Contains(err.Error(), "go test") {
		t.Errorf("%v", err)
	}
	models[1].Fit, models[1].Needs = func(context.Context, Given) (Numbers, error) { return Numbers{}, nil },
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
