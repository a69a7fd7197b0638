package main

import (
	"os/exec"
	"strings"
	"testing"
)

// floors are the rooms that give tabs away, from the ground up. A room imports only rooms
// below its own, and none of those that listen.
var floors = []string{
	"tabber/harp", "tabber/tab", "tabber/compare", "tabber/phrasing", "tabber/retab", "tabber/render",
	"tabber/formats", "tabber/page", "tabber/lesson", "tabber/study", "tabber/studypage",
}

// floorOf is the floor of a package, -1 for one that is not among them.
func floorOf(path string) int {
	for i, room := range floors {
		if path == room || strings.HasPrefix(path, room+"/") {
			return i
		}
	}
	return -1
}

// Imports go one way: from cmd to tabber, from there to onset and pitch, from there to
// decode; and within tabber, among the rooms that give tabs away, down the floors.
func TestImportsGoOneWay(t *testing.T) {
	list := exec.Command("go", "list", "-f", "{{.ImportPath}} {{join .Imports \" \"}}", "blowdraw/...")
	out, err := list.Output()
	if err != nil {
		t.Fatal(err)
	}
	heights := map[string]int{"decode": 0, "onset": 1, "pitch": 1, "tabber": 2, "cmd": 3}
	packages := 0
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		from := strings.TrimPrefix(words[0], "blowdraw/")
		top, _, _ := strings.Cut(from, "/")
		packages++
		for _, w := range words[1:] {
			to, ours := strings.CutPrefix(w, "blowdraw/")
			if !ours {
				continue
			}
			below, _, _ := strings.Cut(to, "/")
			if top != below && heights[below] >= heights[top] {
				t.Errorf("%s imports %s, which is not below it", from, to)
			}
			if floor := floorOf(from); floor >= 0 && below == "tabber" {
				if at := floorOf(to); at < 0 || at > floor {
					t.Errorf("%s imports %s, which is not on a floor below it", from, to)
				}
			}
		}
	}
	if packages < 20 {
		t.Errorf("only %d packages are listed", packages)
	}
}
