package fuzzing

import (
	"path/filepath"
	"slices"
	"testing"
)

// Targets are found by file, all or those that are named.
func TestTargets(t *testing.T) {
	root := filepath.Join("..", "..", "..")
	list, err := Targets(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []Target{
		{"decode", "FuzzWAV"}, {"cmd/blowdraw", "FuzzScreen"}, {"tabber/harp", "FuzzParse"},
	} {
		if !slices.Contains(list, want) {
			t.Errorf("%v is not among %v", want, list)
		}
	}
	if one, err := Targets(root, "FuzzParseTime"); err != nil || len(one) != 1 || one[0].Package != "decode" {
		t.Errorf("%v, %v", one, err)
	}
}

// The figures are those of the last line of progress, as the go command of today writes them.
func TestRead(t *testing.T) {
	r, ok := read(Target{"decode", "FuzzWAV"}, ""+
		"fuzz: elapsed: 0s, gathering baseline coverage: 0/35 completed\n"+
		"fuzz: elapsed: 3s, execs: 8092 (2696/sec), new interesting: 379 (total: 414)\n"+
		"fuzz: elapsed: 1m6s, execs: 19994 (3968/sec), new interesting: 522 (total: 557)\nPASS\n")
	if !ok || r.Seconds != 66 || r.Executions != 19994 || r.New != 522 {
		t.Errorf("%+v, %v", r, ok)
	}
	if _, ok := read(Target{}, "FAIL\n"); ok {
		t.Error("figures without any")
	}
}
