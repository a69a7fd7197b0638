package measure

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"time"
)

// cost of running a program.
type cost struct {
	Wall  float64 // seconds that passed
	CPU   float64 // seconds of processor time, of all cores together
	Bytes int64   // most memory resident at a time; 0 where the system does not tell
}

// add the cost of another run: times add up, of the memory the larger counts.
func (c *cost) add(d cost) {
	c.Wall, c.CPU, c.Bytes = c.Wall+d.Wall, c.CPU+d.CPU, max(c.Bytes, d.Bytes)
}

// costly is the first argument that makes this program run the rest as a command
// and write what it cost to its third file. Linux counts to a child's memory what its
// parent had when it started it, so it must be this one, which has next to none.
const costly = "-run-and-tell-cost"

// runTold runs a program and returns what it writes and what it costs.
func runTold(name string, args ...string) (stdout []byte, c cost, err error) {
	self, err := os.Executable()
	if err != nil {
		return nil, c, err
	}
	told, tell, err := os.Pipe()
	if err != nil {
		return nil, c, err
	}
	defer told.Close()
	run := exec.Command(self, append([]string{costly, name}, args...)...)
	run.ExtraFiles = []*os.File{tell}
	stdout, err = run.Output()
	tell.Close()
	if exit, ok := errors.AsType[*exec.ExitError](err); ok {
		return nil, c, fmt.Errorf("running %s: %w: %s", name, err, strings.TrimSpace(string(exit.Stderr)))
	}
	if err == nil {
		err = json.NewDecoder(told).Decode(&c)
	}
	if err != nil {
		return nil, c, fmt.Errorf("running %s: %w", name, err)
	}
	return stdout, c, nil
}

// Costly runs a command and tells its cost, if the arguments say so: main has to ask it
// first. It returns the exit code.
func Costly(args []string) (code int, asked bool) {
	if len(args) < 2 || args[0] != costly {
		return 0, false
	}
	return runCostly(args[1:]), true
}

// runCostly is the other side of runTold; it returns the exit code.
func runCostly(args []string) int {
	c := exec.Command(args[0], args[1:]...)
	c.Stdin, c.Stdout, c.Stderr = os.Stdin, os.Stdout, os.Stderr
	begun := time.Now()
	err := c.Run()
	wall := time.Since(begun)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	s := c.ProcessState
	told := cost{wall.Seconds(), (s.UserTime() + s.SystemTime()).Seconds(), peak(s)}
	if err := json.NewEncoder(os.NewFile(3, "cost")).Encode(told); err != nil {
		fmt.Fprintln(os.Stderr, "telling the cost:", err)
		return 1
	}
	return 0
}
