// Package programs is for tests that compare with programs which this project did
// not make.
package programs

import (
	"os"
	"os/exec"
	"testing"
)

// Need skips a test that needs programs of which one is not installed. Where CI is
// set in the environment it fails instead, so that no check is left out there.
func Need(t testing.TB, names ...string) {
	t.Helper()
	for _, p := range names {
		if _, err := exec.LookPath(p); err == nil {
			continue
		}
		if os.Getenv("CI") != "" {
			t.Fatalf("the program %s is missing", p)
		}
		t.Skipf("the program %s is missing", p)
	}
}
