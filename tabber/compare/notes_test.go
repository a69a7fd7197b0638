package compare

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"blowdraw/pitch"
)

// readNotes reads onset, offset (s) and frequency (Hz), one note a line.
func readNotes(t *testing.T, path string) []Note {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []Note
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if strings.HasPrefix(sc.Text(), "#") || strings.TrimSpace(sc.Text()) == "" {
			continue
		}
		var n Note
		var hz float64
		if _, err := fmt.Sscan(sc.Text(), &n.Onset, &n.Offset, &hz); err != nil {
			t.Fatalf("%s: %q: %v", path, sc.Text(), err)
		}
		n.Pitch = pitch.HzToMIDI(hz)
		out = append(out, n)
	}
	return out
}

// Source: the test fixtures of mir_eval (testdata/mir_eval/README.md) with the
// scores that the reference implementation gives them.
func TestReferenceScores(t *testing.T) {
	const dir = "../../testdata/mir_eval/"
	inf := math.Inf(1)
	onsetOnly := Criteria{Onset: 0.05, Cents: inf, OffsetMin: inf}
	offsetOnly := Criteria{Onset: inf, Cents: inf, OffsetMin: 0.05, OffsetRatio: 0.2}
	for n := range 5 {
		data, err := os.ReadFile(fmt.Sprintf("%stranscription_output%02d.json", dir, n))
		if err != nil {
			t.Fatal(err)
		}
		var want map[string]float64
		if err := json.Unmarshal(data, &want); err != nil {
			t.Fatal(err)
		}
		ref := readNotes(t, fmt.Sprintf("%stranscription_ref%02d.txt", dir, n))
		est := readNotes(t, fmt.Sprintf("%stranscription_est%02d.txt", dir, n))
		full, free := Notes(ref, est, WithOffset), Notes(ref, est, NoOffset)
		on, off := Notes(ref, est, onsetOnly), Notes(ref, est, offsetOnly)
		got := map[string]float64{
			"Precision": full.Precision, "Recall": full.Recall, "F-measure": full.F,
			"Average_Overlap_Ratio": full.Overlap,
			"Precision_no_offset":   free.Precision, "Recall_no_offset": free.Recall,
			"F-measure_no_offset":             free.F,
			"Average_Overlap_Ratio_no_offset": free.Overlap,
			"Onset_Precision":                 on.Precision, "Onset_Recall": on.Recall,
			"Onset_F-measure":  on.F,
			"Offset_Precision": off.Precision, "Offset_Recall": off.Recall, "Offset_F-measure": off.F,
		}
		if len(want) != len(got) {
			t.Errorf("file %02d has %d scores, want %d", n, len(want), len(got))
		}
		for name, w := range want {
			if g, ok := got[name]; !ok || math.Abs(g-w) > 1e-9 {
				t.Errorf("file %02d: %s = %.12f, want %.12f", n, name, g, w)
			}
		}
	}
}

// Greedy matching would pair the first true item with the only est item that
// the second could have.
func TestMatchIsLargest(t *testing.T) {
	ok := map[[2]int]bool{{0, 0}: true, {0, 1}: true, {1, 0}: true}
	got := Match(2, 2, func(i, j int) bool { return ok[[2]int{i, j}] })
	if got[0] != 1 || got[1] != 0 {
		t.Errorf("Match = %v, want [1 0]", got)
	}
}
