package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

const phrasedTab = tabHead + `section: 0:00.000 to 0:10.000
tempo: 120.0 bpm
Phrase 1 0:01.000 to 0:03.000
0:01.000 0.5 -2
0:01.500 0.5 -3'
0:02.500 0.5 [-4 -5]
Phrase 2 0:05.000 to 0:06.000
0:05.000 1.0 4
`

// Counted by hand.
func TestPhrases(t *testing.T) {
	code, stdout, stderr := fed(phrasedTab, "phrases", "-")
	want := `phrase  start     length  space  beats  space in beats  sounding  events  lowest  highest  semitones
1       0:01.000  2.0 s   2.0 s  4.0    4.0             75%       3       -2      -5       10
2       0:05.000  1.0 s   4.0 s  2.0    8.0             100%      1       4       4        0

2 phrases, 3.0 s; space 7.0 s, 70% of the section; beats at 120.0 bpm.

 0:00         0:02         0:04         0:06
|······█▄▄█▄▄|···█▄▄······|······█▄▄▄▄▄|············|

 0:08
|············|

█ a note begins   ▄ it sounds   · space

No bars: if one begins with the first note, --bar-at 0:01.000 lays them, or the line bar 1 0:01.000 above it in the tab.
`
	if code != 0 || stderr != "" || stdout != want {
		t.Errorf("exit code %d, stderr %q, got\n%s\nwant\n%s", code, stderr, stdout, want)
	}
	code, stdout, _ = fed(phrasedTab, "phrases", "-", "--bpm", "60", "--format", "csv")
	want = `phrase,start,end,length,beats,space,space_beats,sounding,events,lowest,highest,semitones,start_place,end_place,chords
1,1,3,2,2,2,2,0.75,3,-2,-5,10,,,
2,5,6,1,1,4,4,1,1,4,4,0,,,
`
	if code != 0 || stdout != want {
		t.Errorf("exit code %d, CSV:\n%s", code, stdout)
	}
	code, stdout, _ = fed(phrasedTab, "phrases", "-", "--format", "json")
	var v phraseTable
	if err := json.Unmarshal([]byte(stdout), &v); code != 0 || err != nil {
		t.Fatalf("exit code %d, %v", code, err)
	}
	if len(v.Phrases) != 2 || v.Space != 7 || v.BPM == nil || *v.BPM != 120 || *v.Phrases[1].SpaceBeats != 8 {
		t.Errorf("JSON: %s", stdout)
	}
}

func TestPhrasesWithoutTempoOrSection(t *testing.T) {
	tab := tabHead + "0:01 1 -2\n0:04 1 4\n"
	code, stdout, _ := fed(tab, "phrases", "-")
	if code != 0 || strings.Contains(stdout, "beats") ||
		!strings.Contains(stdout, "2 phrases, 2.0 s; space 2.0 s, 50% of the section.\n") {
		t.Errorf("exit code %d\n%s", code, stdout)
	}
	code, stdout, _ = fed(tab, "phrases", "-", "--format", "json")
	if code != 0 || !strings.Contains(stdout, `"beats": null`) || !strings.Contains(stdout, `"bpm": null`) {
		t.Errorf("exit code %d\n%s", code, stdout)
	}
	code, stdout, _ = fed(tabHead, "phrases", "-")
	if code != 0 || stdout != "No phrases: nothing is played.\n" {
		t.Errorf("nothing played: exit code %d, %q", code, stdout)
	}
}

const barredTab = tabHead + `section: 0:00.000 to 0:08.000
meter: 4/4
form: twelve-bar
bar 1 0:00.000 I
Phrase
0:00.500 0.5 -2
0:01.000 0.5 -3'
0:01.500 0.5 4
bar 2 0:02.000 IV
0:02.000 1.0 -4
bar 3 0:04.000 I
Phrase
0:04.500 0.5 -2
0:05.000 0.5 -3'
0:05.500 0.5 4
bar 4 0:06.000 I
0:06.000 0.5 -4
`

// Worked out by hand: D on G, and on C; the song is in second position.
func TestPhrasesInBars(t *testing.T) {
	code, stdout, stderr := fed(barredTab, "phrases", "-")
	want := `phrase  start     length  space  from  to   over  sounding  events  lowest  highest  semitones
1       0:00.500  2.5 s   1.5 s  1|2   2|3  I IV  100%      4       -2      -4       7
2       0:04.500  2.0 s   1.5 s  3|2   4|2  I     100%      4       -2      -4       7

2 phrases, 4.5 s; space 3.5 s, 44% of the section; twelve-bar form.

 1  I         2  IV        3  I         4  I
|···█▄▄█▄▄█▄▄|█▄▄▄▄▄······|···█▄▄█▄▄█▄▄|█▄▄·········|

█ a note begins   ▄ it sounds   · space

Phrase 1 against the chords:
1|2  I   -2   root
1|3  I   -3'  flat third
1|4  I   4    fourth
2|1  IV  -4   second

Phrase 2 against the chords:
3|2  I  -2   root
3|3  I  -3'  flat third
3|4  I  4    fourth
4|1  I  -4   fifth

Comes back on the same holes, 2 times (by chance in 1 solo of 40):
0:00.500  1|2  -2 -3' 4 -4
0:04.500  3|2  -2 -3' 4 -4
`
	if code != 0 || stderr != "" || stdout != want {
		t.Errorf("exit code %d, stderr %q, got\n%s\nwant\n%s", code, stderr, stdout, want)
	}
	code, stdout, _ = fed(barredTab, "phrases", "-", "--format", "csv")
	if code != 0 || !strings.Contains(stdout, ",7,1|2,2|3,I IV\n") {
		t.Errorf("exit code %d, CSV:\n%s", code, stdout)
	}
	picture := filepath.Join(t.TempDir(), "chorus.svg")
	if code, _, stderr := fed(barredTab, "phrases", "-", "--svg", picture); code != 0 {
		t.Fatal(stderr)
	}
	data, err := os.ReadFile(picture)
	var svg struct {
		XMLName xml.Name
		Rects   []struct {
			Title string `xml:"title"`
		} `xml:"rect"`
	}
	if err != nil || xml.Unmarshal(data, &svg) != nil || svg.XMLName.Local != "svg" {
		t.Fatalf("%v\n%s", err, data)
	}
	notes := 0
	for _, r := range svg.Rects {
		if r.Title != "" {
			notes++
		}
	}
	if notes != 8 || len(svg.Rects) != 8+4+1+2 { // boxes, paper, legend
		t.Errorf("%d notes, %d rectangles in the picture", notes, len(svg.Rects))
	}
	code, stdout, stderr = fed(barredTab, "phrases", "-", "--svg", picture)
	checkTrouble(t, code, stdout, stderr, exitFailed, "exists")
}

func TestPhrasesOfRecording(t *testing.T) {
	path := put(t, t.TempDir(), "swung.wav", wavOf(t, swung(104, 24)))
	code, stdout, stderr := command("phrases", path, "--harp", "C", "--bar-at", "2.308", "--form",
		"twelve-bar")
	if code != 0 || !strings.Contains(stdout, "twelve-bar form") ||
		!strings.Contains(stdout, "\n 4  I         5  IV") {
		t.Errorf("exit code %d, %s\n%s", code, stderr, stdout)
	}
}

// Several tabs and folders of them: each its own table, the same as alone; a second
// run passes over what is up to date, an edited table is kept, failures come last.
func TestPhrasesOfMany(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "later"), 0o700); err != nil {
		t.Fatal(err)
	}
	one := put(t, dir, "one.tab", []byte(phrasedTab))
	put(t, filepath.Join(dir, "later"), "two.tab", []byte(barredTab))
	put(t, dir, "song.wav", []byte("not looked for"))
	bad := put(t, dir, "bad.tab", []byte("not a tab\n"))
	code, stdout, stderr := command("phrases", dir)
	for _, row := range []string{"one.tab  ", "  2        3.0 s   70%    written\n",
		"  2        4.5 s   44%    written\n", "3 tabs: 2 written, 0 up to date, 0 kept, 1 failed."} {
		if !strings.Contains(stdout, row) {
			t.Errorf("no %q in\n%s", row, stdout)
		}
	}
	if code != exitFailed || !strings.Contains(stderr, "1 of 3 tabs failed\n  "+bad) {
		t.Errorf("exit code %d, stderr %q", code, stderr)
	}
	os.Remove(bad)
	for file, text := range map[string]string{"one.phrases.txt": phrasedTab,
		"later/two.phrases.txt": barredTab} {
		if _, alone, _ := fed(text, "phrases", "-"); read(t, dir, file) != alone {
			t.Errorf("%s is not what is shown of the tab alone", file)
		}
	}
	elsewhere := filepath.Join(dir, "tables")
	for _, step := range []struct {
		change func()
		args   []string
		want   string
	}{
		{nil, nil, "0 written, 2 up to date, 0 kept"},
		{func() { put(t, dir, "one.tab", []byte(phrasedTab+"0:07 1 -4\n")) }, nil,
			"1 written, 1 up to date, 0 kept"},
		{nil, []string{"--bpm", "60", "--jobs", "1"}, "2 written, 0 up to date, 0 kept"},
		{func() { put(t, dir, "one.phrases.txt", []byte("mine")) }, []string{"--again"},
			"1 written, 0 up to date, 1 kept"},
		{nil, []string{"--dir", elsewhere, "--format", "csv"}, "2 written, 0 up to date, 0 kept"},
		// one of them twice
		{nil, []string{one, "--dir", elsewhere, "--format", "csv"}, "0 written, 2 up to date, 0 kept"},
	} {
		if step.change != nil {
			step.change()
		}
		code, stdout, stderr := command(append([]string{"phrases", dir}, step.args...)...)
		if code != 0 || stderr != "" || !strings.Contains(stdout, step.want) {
			t.Errorf("%q: exit code %d, stderr %q, want %q in\n%s",
				step.args, code, stderr, step.want, stdout)
		}
	}
	if read(t, dir, "one.phrases.txt") != "mine" ||
		!strings.HasPrefix(read(t, elsewhere, "later", "two.phrases.csv"), "phrase,start") {
		t.Error("an edited table was overwritten, or the other has no CSV")
	}
}

func TestPhrasesOfRecordings(t *testing.T) {
	dir := album(t)
	put(t, dir, "not-asked.tab", []byte(phrasedTab))
	code, stdout, stderr := command("phrases", dir, "--harp", "C")
	if code != 0 || !strings.Contains(stdout, "2 recordings: 2 written") {
		t.Fatalf("exit code %d, stderr %q\n%s", code, stderr, stdout)
	}
	_, alone, _ := command("phrases", filepath.Join(dir, "one.wav"), "--harp", "C")
	if read(t, dir, "one.phrases.txt") != alone {
		t.Error("the table is not that of the recording alone")
	}
}

func TestPhrasesTrouble(t *testing.T) {
	for _, c := range []struct {
		args []string
		say  string
	}{
		{[]string{"-", "--bpm", "0"}, "--bpm"},
		{[]string{"-", "--bpm", "NaN"}, "--bpm"},
		{[]string{"-", "--format", "pdf"}, "pdf"},
		{[]string{"-", "--form", "twelve-bar"}, "--harp"},
		{[]string{"-", "--form", "sonata"}, "twelve-bar"},
		{nil, "want a tab"},
		{[]string{"a", ""}, "want a tab"},
		{[]string{"a", "-"}, "standard input"},
		{[]string{"a", "b", "--svg", "x.svg"}, "--svg"},
		{[]string{"-", "--again"}, "--again"},
	} {
		code, stdout, stderr := fed(phrasedTab, append([]string{"phrases"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, exitUsage, c.say)
	}
	code, stdout, stderr := fed("not a tab\n", "phrases", "-")
	checkTrouble(t, code, stdout, stderr, exitFailed, "standard input")
}

// Bars over a tab by hand: at its tempo, or along beats tapped; and by the line that the
// hint names.
func TestPhrasesBarsByHand(t *testing.T) {
	taps := put(t, t.TempDir(), "taps", []byte("# tapped\n0.98\n1.52\n2\n2.5\n3.02\n3.5\n4\n4.5\n5.01\n"))
	counted := put(t, t.TempDir(), "taps", []byte("0.98 3\n1.52 4\n2 1\n2.5 2\n3.02 3\n3.5 4\n"+
		"4 1\n4.5 2\n5.01 3\n"))
	byLine := strings.Replace(phrasedTab, "Phrase 1", "bar 1 0:01.000\nPhrase 1", 1)
	for _, c := range []struct {
		tab  string
		args []string
		want []string
	}{
		{phrasedTab, []string{"--bar-at", "0:01.000"},
			[]string{" 1|1   2|1  ", " 3|1   3|3  ",
				" 0            1            2            3\n|············|█▄▄█▄▄···█▄▄|"}},
		{phrasedTab, []string{"--bar-at", "1", "--meter", "3/4"}, []string{" 1|1   2|2  ", " 3|3   4|2  "}},
		{phrasedTab, []string{"--bar-at", "1", "--bpm", "60"}, []string{" 1|1   1|3  ", " 2|1   2|2  "}},
		{phrasedTab, []string{"--bar-at", "1", "--taps", taps},
			[]string{" 1|1   2|1  ", " 3|1   3|3  ", "beats at 119.1 bpm"}},
		{phrasedTab, []string{"--taps", counted}, []string{" 0|3   1|3  ", "beats at 119.1 bpm"}},
		{byLine, nil, []string{" 1|1   2|1  ", " 3|1   3|3  "}},
	} {
		code, stdout, stderr := fed(c.tab, append([]string{"phrases", "-"}, c.args...)...)
		for _, want := range c.want {
			if code != 0 || stderr != "" || !strings.Contains(stdout, want) ||
				strings.Contains(stdout, "No bars") {
				t.Errorf("%v: exit code %d, stderr %q, no %q in\n%s", c.args, code, stderr, want, stdout)
			}
		}
	}
	code, stdout, stderr := fed(phrasedTab, "phrases", "-", "--taps", taps)
	checkTrouble(t, code, stdout, stderr, exitUsage, "--bar-at TIME")
	code, stdout, stderr = fed(tabHead+"0:01 1 -2\n", "phrases", "-", "--bar-at", "1")
	checkTrouble(t, code, stdout, stderr, exitFailed, "--bpm")
}

// On a terminal no line is wider than it; what is printed is the same.
func TestPhrasesFitTheTerminal(t *testing.T) {
	long := tabHead + "section: 0:00 to 0:40\nmeter: 4/4\ntempo: 120 bpm\nbar 1 0:00 I\nbar 2 0:02 IV\n"
	for _, from := range []int{0, 20} {
		long += "Phrase\n"
		for i := range 30 {
			at := 2*from + i
			long += fmt.Sprintf("0:%02d.%d 0.5 %s\n", at/2, 5*(at%2), []string{"-2", "-3'", "4", "-4", "-5",
				"6", "[-4 -5]"}[i*i%7])
		}
	}
	d, err := tab.Parse(strings.NewReader(long))
	if err != nil {
		t.Fatal(err)
	}
	printed := func(width int) string {
		table := phraseTableOf(d)
		table.width, table.strip = width, phrasing.Strip(d, width)
		var b bytes.Buffer
		if err := writePhraseTable(&b, table); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	words := func(s string) []string { // but the table's first column, the strip and its bars' numbers
		w := strings.FieldsFunc(s, func(r rune) bool {
			return unicode.IsSpace(r) ||
				strings.ContainsRune("█▄·|", r)
		})
		slices.Sort(w)
		return slices.Compact(w)
	}
	whole := printed(0)
	for _, width := range []int{60, 80, 100, 200} {
		got := printed(width)
		for _, line := range strings.Split(got, "\n") {
			if utf8.RuneCountInString(line) > width {
				t.Errorf("wider than %d: %q", width, line)
			}
		}
		if !slices.Equal(words(got), words(whole)) {
			t.Errorf("in %d columns:\n%s\nwhole:\n%s", width, got, whole)
		}
	}
	if !strings.Contains(whole, "Comes back on the same holes, 2 times (by chance in fewer than 1 "+
		"solo of 1000):") {
		t.Errorf("nothing comes back in\n%s", whole)
	}
}
