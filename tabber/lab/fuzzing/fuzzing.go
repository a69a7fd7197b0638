// Package fuzzing runs the fuzz targets of the repository and tells how many inputs each
// tried.
package fuzzing

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Target is a fuzz target.
type Target struct{ Package, Name string } // the package as seen from the repository's root

// Run is how a target went.
type Run struct {
	Target
	Seconds    float64
	Executions int
	New        int // inputs that reached code as none before did
}

var declared = regexp.MustCompile(`(?m)^func (Fuzz\w*)\(`)

// Targets are those of a repository, in order of their files; with names only those.
func Targets(root string, names ...string) (list []Target, err error) {
	wanted := map[string]bool{}
	for _, n := range names {
		wanted[n] = true
	}
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		dir, err := filepath.Rel(root, filepath.Dir(path))
		for _, m := range declared.FindAllSubmatch(text, -1) {
			if t := (Target{filepath.ToSlash(dir), string(m[1])}); len(names) == 0 || wanted[t.Name] {
				list = append(list, t)
			}
		}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("looking for fuzz targets: %w", err)
	}
	return list, nil
}

// Command is what the go command is told, on one worker. Without the limit on making inputs
// smaller the engine spends most of its time on that.
func (t Target) Command(long time.Duration) []string {
	return []string{"test", "-run", "^$", "-fuzz", "^" + t.Name + "$", "-fuzztime", long.String(),
		"-fuzzminimizetime", "1x", "-parallel", "1", "./" + t.Package}
}

// Fuzz runs a target for so long. What it finds is an error, with what the go command says.
func (t Target) Fuzz(ctx context.Context, root string, long time.Duration) (Run, error) {
	c := exec.CommandContext(ctx, "go", t.Command(long)...)
	c.Dir = root
	out, err := c.CombinedOutput()
	r, ok := read(t, string(out))
	if err != nil || !ok {
		return r, fmt.Errorf("fuzzing %s %s: %v\n%s", t.Package, t.Name, err, out)
	}
	return r, nil
}

var progress = regexp.MustCompile(`elapsed: (\S+), execs: (\d+) .*new interesting: (\d+)`)

// read takes the last line of progress out of what the go command says.
func read(t Target, out string) (r Run, ok bool) {
	r.Target = t
	for _, m := range progress.FindAllStringSubmatch(out, -1) {
		took, err1 := time.ParseDuration(m[1])
		n, err2 := strconv.Atoi(m[2])
		found, err3 := strconv.Atoi(m[3])
		if ok = err1 == nil && err2 == nil && err3 == nil; ok {
			r.Seconds, r.Executions, r.New = took.Seconds(), n, found
		}
	}
	return r, ok
}

// Print runs the targets one after the other, each for so long, and prints a line for each
// and their sum. Those that find something are an error in the end.
func Print(ctx context.Context, w io.Writer, root string, list []Target, long time.Duration) error {
	fmt.Fprintf(w, "%-38s%10s%14s%12s%8s\n", "", "seconds", "executions", "a second", "new")
	var sum Run
	var failed []string
	for _, t := range list {
		r, err := t.Fuzz(ctx, root, long)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			failed = append(failed, err.Error())
		}
		r.print(w, t.Package+" "+t.Name)
		sum.Seconds, sum.Executions, sum.New = sum.Seconds+r.Seconds, sum.Executions+r.Executions, sum.New+r.New
	}
	sum.print(w, "all")
	if len(failed) > 0 {
		return fmt.Errorf("%s", strings.Join(failed, "\n"))
	}
	return nil
}

func (r Run) print(w io.Writer, name string) {
	fmt.Fprintf(w, "%-38s%10.0f%14d%12.0f%8d\n", name, r.Seconds, r.Executions,
		float64(r.Executions)/max(r.Seconds, 1), r.New)
}
