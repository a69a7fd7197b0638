package main

import (
	"os/exec"
	"strings"
	"testing"
)

// The program has nothing of what only developers run: no package of the lab, none that
// only tests use, and none that only fitting needs. What it is made of is as the go
// command lists it.
func TestProgramHasNoLab(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", ".").CombinedOutput()
	if err != nil {
		t.Fatalf("listing what the program is made of: %v: %s", err, out)
	}
	packages := strings.Fields(string(out))
	if len(packages) < 50 {
		t.Fatalf("only %d packages: %s", len(packages), out)
	}
	for _, p := range packages {
		for _, banned := range []string{
			"blowdraw/tabber/lab", "blowdraw/cmd/blowdraw-lab", "blowdraw/decode/programs",
			"blowdraw/tabber/harp/harptest",
			"blowdraw/tabber/formats/invent", "gonum.org/v1/gonum/optimize", "testing", "github.com/chromedp",
			"golang.org/x/net",
		} {
			if p == banned || strings.HasPrefix(p, banned+"/") {
				t.Errorf("the program has the package %s", p)
			}
		}
	}
}
