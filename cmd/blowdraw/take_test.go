package main

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode/programs"
)

// A recording is compared with a tab: with the one that is heard in it nothing differs; a
// slower take of it, made by sox, is found with its tempo; another passage is not found.
func TestCompareRecording(t *testing.T) {
	dir := t.TempDir()
	wav := put(t, dir, "demo.wav", demo.Recording())
	teacher := filepath.Join(dir, "demo.tab")
	if code, _, stderr := command("transcribe", wav, "--harp", "A", "-o", teacher); code != 0 {
		t.Fatal(stderr)
	}
	code, stdout, stderr := command("compare", teacher, wav)
	m := regexp.MustCompile(`\n(\d+) of (\d+) right; at A's tempo`).FindStringSubmatch(stdout)
	if code != 0 || m == nil || m[1] != m[2] || !strings.Contains(stdout, "No event differs.") {
		t.Errorf("exit code %d: %s\n%s", code, stderr, stdout)
	}
	code, stdout, stderr = command(
		"compare",
		teacher,
		put(t, dir, "again.tab", []byte(read(t, teacher))),
		"--from",
		"3",
	)
	checkTrouble(t, code, stdout, stderr, 2, "--from is for a recording")
	code, stdout, stderr = command("compare", teacher, wav, "--align")
	checkTrouble(t, code, stdout, stderr, 2, "--align is for two tabs")
	other := put(
		t,
		dir,
		"other.tab",
		[]byte("blowdraw tab 1\nharp: A\nsong: E\n9 10 -10 9 8 -9 10 9 -10 8 9 10\n"),
	)
	code, stdout, stderr = command("compare", other, wav)
	if code != 1 || stdout != "" || !strings.Contains(stderr, "is not heard in it") {
		t.Errorf("another passage: exit code %d: %s\n%s", code, stderr, stdout)
	}

	programs.Need(t, "sox")
	slower := filepath.Join(dir, "slower.wav")
	if out, err := exec.Command("sox", wav, slower, "pad", "3", "tempo", "-m", "0.85").CombinedOutput(); err != nil {
		t.Fatalf("sox: %v: %s", err, out)
	}
	code, stdout, stderr = command("compare", teacher, slower)
	m = regexp.MustCompile(`\n(\d+) of (\d+) right.*\sat (\d+)% of A's tempo`).FindStringSubmatch(
		strings.ReplaceAll(stdout, ";\n", "; "))
	if code != 0 || m == nil {
		t.Fatalf("exit code %d: %s\n%s", code, stderr, stdout)
	}
	var n [3]int
	for i := range n {
		n[i], _ = strconv.Atoi(m[i+1])
	}
	if n[0] < n[1]*3/4 || n[2] < 84 || n[2] > 86 {
		t.Error(fmt.Sprint(n) + "\n" + stdout)
	}
}
