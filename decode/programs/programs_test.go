package programs

import (
	"errors"
	"fmt"
	"runtime"
	"testing"
)

// recorder is a test that only notes how it ended.
type recorder struct {
	testing.TB
	skipped, failed bool
}

func (r *recorder) Helper() {}

func (r *recorder) Skipf(string, ...any) { r.skipped = true; runtime.Goexit() }

func (r *recorder) Fatalf(string, ...any) { r.failed = true; runtime.Goexit() }

func (r *recorder) Fatal(...any) { r.failed = true; runtime.Goexit() }

// What is missing leaves a test out, and fails it where CI is set; what is there does
// neither, and an error that says something else always fails it.
func TestMissing(t *testing.T) {
	lacking := errors.New("no bank")
	for _, c := range []struct {
		name          string
		need          func(testing.TB)
		left, failing bool // without CI; with CI
	}{
		{"program", func(t testing.TB) { Need(t, "sh", "there-is-no-such-program") }, true, true},
		{"programs", func(t testing.TB) { Need(t, "sh") }, false, false},
		{"file", func(t testing.TB) { NeedFiles(t, "programs.go", "none.sf2") }, true, true},
		{"files", func(t testing.TB) { NeedFiles(t, "programs.go") }, false, false},
		{"error", func(t testing.TB) { Check(t, fmt.Errorf("opening: %w", lacking), lacking) }, true, true},
		{"no error", func(t testing.TB) { Check(t, nil, lacking) }, false, false},
		{"other error", func(t testing.TB) { Check(t, errors.New("damaged"), lacking) }, false, true},
	} {
		for _, ci := range []string{"", "true"} {
			t.Setenv("CI", ci)
			r := recorder{TB: t}
			done := make(chan bool)
			go func() {
				defer close(done)
				c.need(&r)
			}()
			<-done
			if want := c.left && ci == ""; r.skipped != want {
				t.Errorf("%s, CI=%q: left out: %v, want %v", c.name, ci, r.skipped, want)
			}
			if want := c.failing && (ci != "" || !c.left); r.failed != want {
				t.Errorf("%s, CI=%q: failed: %v, want %v", c.name, ci, r.failed, want)
			}
		}
	}
}
