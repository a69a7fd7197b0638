package measure

import (
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"blowdraw/tabber/lab/score"
)

// Means by tier, read back from a file, and their differences; what applies only to one of
// two has none.
func TestMeans(t *testing.T) {
	at := func(tier string, noteF, splits float64) Clip {
		m := score.Measures{NoteF: noteF, Splits: splits}
		return Clip{Tier: tier, Measures: m}
	}
	none := math.NaN()
	before := MeansOf([]Clip{at("dry", 0.5, none), at("dry", 0.75, none), at("hall", 1, 0.5)})
	after := MeansOf([]Clip{at("dry", 0.75, 0.25), at("dry", 0.75, none), at("hall", 0.5, 0.75)})
	path := filepath.Join(t.TempDir(), "means.json")
	if err := WriteMeans(path, before); err != nil {
		t.Fatal(err)
	}
	read, err := ReadMeans(path)
	if err != nil || !reflect.DeepEqual(read, before) {
		t.Errorf("%+v, %v, want %+v", read, err, before)
	}
	lines := func(m Means) string {
		var b strings.Builder
		m.Print(&b)
		var out []string
		for line := range strings.Lines(b.String()) {
			if name := strings.Fields(line)[0]; name == "dry" || name == "noteF" || name == "splits" {
				out = append(out, strings.Join(strings.Fields(line), " "))
			}
		}
		return strings.Join(out, "; ")
	}
	if got, want := lines(before), "dry hall all; noteF 0.625 1.000 0.750; splits - 0.500 0.500"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	want := "dry hall all; noteF +0.125 -0.500 -0.083; splits - +0.250 +0.000"
	if got := lines(after.Minus(read)); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if _, err := ReadMeans(path + "x"); err == nil {
		t.Error("means of no file")
	}
}
