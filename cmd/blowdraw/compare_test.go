package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/tabber/compare"
)

const (
	teacherTab = tabHead + "tempo: 120 bpm\n0:01 0.4 -2\n0:01.5 0.4 -3'\n0:02 0.4 -4\n0:02.5 0.4 4\n" +
		"0:03 0.9 [-4 -5]\n"
	studentTab = tabHead + "0:01.01 0.4 -2\n0:01.5 0.4 -3''\n0:02.08 0.4 -4\n0:03 0.5 [-4 -5]\n0:04 1 6\n"
)

// The numbers are counted by hand: of A's 6 notes 3 are there (-2, -4 and -5), of
// its 5 events 2.
func TestCompare(t *testing.T) {
	a := put(t, t.TempDir(), "a.tab", []byte(teacherTab))
	code, stdout, stderr := fed(studentTab, "compare", a, "-", "--scores")
	want := `A  ` + a + `: 5 events, A harp
B  standard input: 5 events, A harp

3 of 5 right; 1 other note, 1 left out, 1 added; late by 30 ms on the whole.

                     precision  recall  F1     right  in A  in B
notes                0.500      0.500   0.500  3      6     6
notes with ends      0.167      0.167   0.167  1      6     6
events, right holes  0.400      0.400   0.400  2      5     5

Timing of 3 events with the same tab: B is 30 ms late on average, spread 36 ms.
By beat at 120.0 bpm, 4 to the bar from A's first event:

beat  events  B is        spread  in beats
1     2       5 ms late   5 ms    +0.01
3     1       80 ms late  0 ms    +0.16

5 events differ:

line A  time      tab A    line B  time      tab B
6       0:01.500  -3'      5       0:01.500  -3''     other tab
7       0:02.000  -4       6       0:02.080  -4       80 ms late
8       0:02.500  4                                   only in A
9       0:03.000  [-4 -5]  7       0:03.000  [-4 -5]  0.400 s shorter
                           8       0:04.000  6        only in B
`
	if code != 0 || stderr != "" || stdout != want {
		t.Errorf("exit code %d, stderr %q, got\n%s\nwant\n%s", code, stderr, stdout, want)
	}
}

func TestCompareAligned(t *testing.T) {
	a := put(t, t.TempDir(), "a.tab", []byte(teacherTab))
	later := strings.NewReplacer("0:01", "0:11", "0:02", "0:12", "0:03", "0:13").Replace(teacherTab)
	code, stdout, _ := fed(later, "compare", a, "-", "--scores")
	if code != 0 || !strings.Contains(stdout, "events, right holes  0.000") ||
		!strings.Contains(stdout, "nothing to say of timing") ||
		!strings.Contains(stdout, "0 of 5 right; 5 left out, 5 added.\n"+
			"Moved by -10.000 s it has 5 right: see --align.\n") ||
		!strings.Contains(stdout, "10 events differ") {
		t.Errorf("not aligned: exit code %d\n%s", code, stdout)
	}
	code, stdout, _ = fed(later, "compare", a, "-", "--align", "--scores")
	if code != 0 || !strings.Contains(stdout, "moved by -10.000 s") ||
		!strings.Contains(stdout, "events, right holes  1.000") ||
		!strings.Contains(stdout, "No event differs.") {
		t.Errorf("aligned: exit code %d\n%s", code, stdout)
	}
}

// The verdict comes first, without scores; bars only where A has them.
func TestCompareVerdict(t *testing.T) {
	var plain, hurried strings.Builder
	for k := range 8 {
		token := []string{"-2", "-4", "4", "-3"}[k%4]
		fmt.Fprintf(&plain, "0:%06.3f 0.2 %s\n", 1+0.5*float64(k), token)
		fmt.Fprintf(&hurried, "0:%06.3f 0.2 %s\n", 1+0.5*float64(k)-0.032*float64(max(0, k-4)), token)
	}
	const line = "8 of 8 right; early by 24 ms on the whole"
	for _, c := range []struct{ head, want string }{
		{"meter: 4/4\nbar 1 0:01\nbar 2 0:03\nbar 3 0:05\n", line + ", hurries in bar 2.\n\n"},
		{"Phrase 1 0:01 to 0:02\nPhrase 2 0:03 to 0:04\n", line + ", hurries in phrase 2.\n\n"},
		{"", line + ".\n\n"},
	} {
		a := put(t, t.TempDir(), "a.tab", []byte(tabHead+c.head+plain.String()))
		code, stdout, stderr := fed(tabHead+hurried.String(), "compare", a, "-")
		_, after, _ := strings.Cut(stdout, "\n\n")
		if code != 0 || stderr != "" || !strings.HasPrefix(after, c.want) || strings.Contains(stdout, "recall") {
			t.Errorf("exit code %d, stderr %q, got\n%s\nwant\n%s", code, stderr, stdout, c.want)
		}
	}
	for want, numbers := range map[string][]int{ // of bars, below 0 for who hurries
		"hurries in bar 3":                          {-3},
		"hurries in bars 3 and 5, drags in bar 4":   {-3, 4, -5},
		"drags in bars 1, 2 and 3":                  {1, 2, 3},
		"drags in bars 1, 2, 3, 4, 5, 6 and 2 more": {1, 2, 3, 4, 5, 6, 7, 8},
	} {
		var drifts []compare.Drift
		for _, n := range numbers {
			drifts = append(drifts, compare.Drift{Bar: true, Number: max(n, -n), Seconds: float64(n)})
		}
		if got := strings.Join(driftTexts(drifts), ", "); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A damaged tab is compared as far as it goes.
func TestCompareDamaged(t *testing.T) {
	a := put(t, t.TempDir(), "a.tab", []byte(teacherTab))
	code, stdout, stderr := fed(teacherTab+"0:05 1 99\n", "compare", a, "-")
	if code != 0 || !strings.Contains(stdout, "No event differs.") ||
		stderr != "blowdraw: standard input: line 10, column 8: 99: this harp has holes 1 to 10; "+
			"want 9 9 for notes in turn\n" {
		t.Errorf("exit code %d, stderr %q\n%s", code, stderr, stdout)
	}
}

func TestCompareTrouble(t *testing.T) {
	dir := t.TempDir()
	good := put(t, dir, "good.tab", []byte(teacherTab))
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{nil, 2, "two tabs"},
		{[]string{good}, 2, "two tabs"},
		{[]string{good, good, good}, 2, "two tabs"},
		{[]string{"-", "-"}, 2, "only one"},
		{[]string{good, ""}, 2, "two tabs"},
		{[]string{good, filepath.Join(dir, "none")}, 1, "no such file"},
		{[]string{good, put(t, dir, "text", []byte("hello\n"))}, 1, "not a tab document"},
		{[]string{good, good, "--onset", "0"}, 2, "--onset"},
		{[]string{good, good, "--onset", "NaN"}, 2, "--onset"},
		{[]string{good, good, "--bpm", "0"}, 2, "--bpm"},
		{[]string{good, good, "--beats", "0"}, 2, "--beats"},
	} {
		code, stdout, stderr := command(append([]string{"compare"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, c.code, c.say)
	}
}
