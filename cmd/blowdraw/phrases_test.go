package main

import (
	"encoding/json"
	"strings"
	"testing"
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
	want := `phrase  start     length  space  sounding  events  lowest  highest  semitones  beats  space in beats
1       0:01.000  2.0 s   2.0 s  75%       3       -2      -5       10         4.0    4.0
2       0:05.000  1.0 s   4.0 s  100%      1       4       4        0          2.0    8.0

2 phrases, 3.0 s; space 7.0 s, 70% of the section; beats at 120.0 bpm.
`
	if code != 0 || stderr != "" || stdout != want {
		t.Errorf("exit code %d, stderr %q, got\n%s\nwant\n%s", code, stderr, stdout, want)
	}
	code, stdout, _ = fed(phrasedTab, "phrases", "-", "--bpm", "60", "--format", "csv")
	want = `phrase,start,end,length,beats,space,space_beats,sounding,events,lowest,highest,semitones
1,1,3,2,2,2,2,0.75,3,-2,-5,10
2,5,6,1,1,4,4,1,1,4,4,0
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
	if code != 0 || strings.Contains(stdout, "beats") || !strings.Contains(stdout, "2 phrases, 2.0 s; space 2.0 s, 50% of the section.\n") {
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

func TestPhrasesTrouble(t *testing.T) {
	for _, c := range []struct {
		args []string
		say  string
	}{
		{[]string{"-", "--bpm", "0"}, "--bpm"},
		{[]string{"-", "--bpm", "NaN"}, "--bpm"},
		{[]string{"-", "--format", "pdf"}, "pdf"},
		{nil, "one tab"},
		{[]string{"a", "b"}, "one tab"},
	} {
		code, stdout, stderr := fed(phrasedTab, append([]string{"phrases"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, exitUsage, c.say)
	}
	code, stdout, stderr := fed("not a tab\n", "phrases", "-")
	checkTrouble(t, code, stdout, stderr, exitFailed, "standard input")
}
