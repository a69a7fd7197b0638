// Package programs is for tests that compare with programs and sounds which this project
// did not make.
//
// A test is left out where what it needs is not installed. Where CI is set in the
// environment it fails instead, so that no check is left out there.
package programs

import (
	"errors"
	"os"
	"os/exec"
	"testing"
)

// Sound banks (SoundFont 2) as Debian installs them.
const (
	FluidBank = "/usr/share/sounds/sf2/FluidR3_GM.sf2" // package fluid-soundfont-gm
	TimBank   = "/usr/share/sounds/sf2/TimGM6mb.sf2"   // package timgm6mb-soundfont
)

// Need leaves out a test that needs programs of which one is not installed.
func Need(t testing.TB, names ...string) {
	t.Helper()
	for _, name := range names {
		if _, err := exec.LookPath(name); err != nil {
			Missing(t, "the program %s is missing", name)
		}
	}
}

// NeedFiles leaves out a test that needs files of which one is not there, such as a
// sound bank.
func NeedFiles(t testing.TB, paths ...string) {
	t.Helper()
	for _, path := range paths {
		if _, err := os.Stat(path); err != nil {
			Missing(t, "the file %s is missing", path)
		}
	}
}

// Check fails a test on an error, but leaves it out if the error is, or wraps, the one
// that stands for something that is not installed.
func Check(t testing.TB, err, missing error) {
	t.Helper()
	switch {
	case errors.Is(err, missing):
		Missing(t, "%v", err)
	case err != nil:
		t.Fatal(err)
	}
}

// Missing leaves out a test and says what it lacks.
func Missing(t testing.TB, format string, args ...any) {
	t.Helper()
	if os.Getenv("CI") != "" {
		t.Fatalf(format, args...)
	}
	t.Skipf(format, args...)
}
