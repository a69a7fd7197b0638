package programs

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// below are the top-level folders that those of each may import: decode carries onset and
// pitch, which stand side by side, they carry tabber, and tabber carries cmd.
var below = map[string][]string{
	"decode": {"decode"},
	"onset":  {"decode", "onset"},
	"pitch":  {"decode", "pitch"},
	"tabber": {"decode", "onset", "pitch", "tabber"},
	"cmd":    {"decode", "onset", "pitch", "tabber", "cmd"},
}

// Imports go one way, those of tests included. The compiler refuses circles of packages
// only, not of folders.
func TestImportsGoOneWay(t *testing.T) {
	const module, each = "blowdraw/", "{{.ImportPath}}{{range .Imports}} {{.}}{{end}}" +
		"{{range .TestImports}} {{.}}{{end}}{{range .XTestImports}} {{.}}{{end}}"
	list, err := exec.Command("go", "list", "-tags", "long", "-f", each, module+"...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	packages := 0
	for line := range strings.Lines(string(list)) {
		imports := strings.Fields(line)
		path, ours := strings.CutPrefix(imports[0], module)
		if !ours {
			t.Fatalf("go list names %q", imports[0])
		}
		top, _, _ := strings.Cut(path, "/")
		allowed, known := below[top]
		if !known {
			t.Errorf("%s lies in none of the known folders", path)
		}
		packages++
		for _, i := range imports[1:] {
			if i, ours := strings.CutPrefix(i, module); ours {
				if folder, _, _ := strings.Cut(i, "/"); !slices.Contains(allowed, folder) {
					t.Errorf("%s imports %s", path, i)
				}
			}
		}
	}
	if packages < 20 {
		t.Errorf("go list names %d packages", packages)
	}
}
