package midi

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/pitch"
	"blowdraw/tabber/formats/invent"
	"blowdraw/tabber/tab"
)

func written(t *testing.T, d tab.Document) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Nothing is lost on the way there and back: every note, its time to 2 ms, its
// pitch, holes and bends.
func TestRoundTrip(t *testing.T) {
	for seed := range uint64(400) {
		d := invent.Document(seed, false)
		m, err := Read(bytes.NewReader(written(t, d)))
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		steady := len(d.Bars) == 0 // otherwise it may be over before its first bar line
		if len(m.Parts) != 1 || m.Key != d.SongKey || steady && math.Abs(m.BPM-d.BPM) > 0.01 {
			t.Fatalf("seed %d: %d parts, key %d, %g bpm; want 1, %d, %g",
				seed, len(m.Parts), m.Key, m.BPM, d.SongKey, d.BPM)
		}
		got, flags := m.Tab(m.Parts[0], d.Harp, m.Key, true)
		if len(flags) > 0 || len(got.Events) != len(d.Events) {
			t.Fatalf("seed %d: %d events, %d flags; want %d and none",
				seed, len(got.Events), len(flags), len(d.Events))
		}
		checkBars(t, seed, got)
		for i, e := range d.Events {
			g := got.Events[i]
			if math.Abs(g.Start-(e.Start-d.From)) > 0.002 || math.Abs(g.End-(e.End-d.From)) > 0.002 ||
				!slices.Equal(g.Actions, e.Actions) {
				t.Fatalf("seed %d, event %d: %s from %.4f to %.4f, want %s from %.4f to %.4f", seed, i,
					tab.Token(g.Actions), g.Start, g.End, tab.Token(e.Actions), e.Start-d.From, e.End-d.From)
			}
		}
	}
}

// Doubtful events and what the harp does not have come back as notes too.
func TestRoundTripOthers(t *testing.T) {
	for seed := range uint64(100) {
		d := invent.Document(seed, true)
		for i := range d.Events {
			d.Events[i].Marks = nil
		}
		m, err := Read(bytes.NewReader(written(t, d)))
		if err != nil {
			t.Fatal(err)
		}
		var want, got []float64
		for _, e := range d.Events {
			for _, a := range e.Actions {
				want = append(want, float64(d.Harp.MIDI(a)))
			}
			if len(e.Actions) == 0 {
				want = append(want, e.Pitches[0]-d.TuningCents/100)
			}
		}
		for _, n := range m.Parts[0].Notes {
			got = append(got, n.Pitch)
		}
		if len(got) != len(want) {
			t.Fatalf("seed %d: %d notes, want %d", seed, len(got), len(want))
		}
		for i := range want {
			if math.Abs(got[i]-want[i]) > 0.01 {
				t.Fatalf("seed %d, note %d: %.3f, want %.3f", seed, i, got[i], want[i])
			}
		}
	}
}

// byMidicsv is a tab, written as MIDI, as the program midicsv reads it.
func byMidicsv(t *testing.T, d tab.Document) []byte {
	t.Helper()
	programs.Need(t, "midicsv")
	path := filepath.Join(t.TempDir(), "x.mid")
	if err := os.WriteFile(path, written(t, d), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("midicsv", path).Output()
	if err != nil {
		t.Fatalf("midicsv: %v", err)
	}
	return out
}

// midicsv, a program by others, reads the same notes at the same times.
func TestByMidicsv(t *testing.T) {
	d := invent.Document(7, true)
	out := byMidicsv(t, d)
	r := csv.NewReader(bytes.NewReader(out))
	r.FieldsPerRecord, r.TrimLeadingSpace, r.LazyQuotes = -1, true, true
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	type change struct{ tick, perTick float64 }
	var tempo []change
	notes, lyrics, markers := map[string][]float64{}, 0, 0
	program := ""
	for _, row := range rows {
		switch row[2] {
		case "Tempo":
			tempo = append(tempo, change{number(row[1]), number(row[3]) / 1e6 / ticks})
		case "Note_on_c":
			if row[5] != "0" {
				notes[row[4]] = append(notes[row[4]], number(row[1]))
			}
		case "Lyric_t":
			lyrics++
		case "Marker_t":
			markers++
		case "Program_c":
			program = row[4]
		}
	}
	seconds := func(tick float64) float64 {
		at := 0.0
		for i, c := range tempo {
			end := tick
			if i+1 < len(tempo) {
				end = min(tick, tempo[i+1].tick)
			}
			at += max(0, end-c.tick) * c.perTick
		}
		return at
	}
	if program != "22" || lyrics != len(d.Events) || markers != len(d.Phrases) {
		t.Errorf("program %s, %d lyrics, %d markers; want 22, %d, %d",
			program, lyrics, markers, len(d.Events), len(d.Phrases))
	}
	n := 0
	for _, e := range d.Events {
		for _, s := range sounds(d, e) {
			n++
			then := func(tick float64) bool { return math.Abs(seconds(tick)-(e.Start-d.From)) < 0.002 }
			if !slices.ContainsFunc(notes[strconv.Itoa(s.key)], then) {
				t.Errorf("no note %d at %.3f s", s.key, e.Start-d.From)
			}
		}
	}
	for _, at := range notes {
		n -= len(at)
	}
	if n != 0 {
		t.Errorf("the numbers of notes differ by %d", n)
	}
}

// fluidsynth plays the bends at the pitch that the tab says.
func TestByFluidsynth(t *testing.T) {
	programs.Need(t, "fluidsynth")
	programs.NeedFiles(t, programs.FluidBank)
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\ntempo: 60 bpm\n" +
		"0:01 1 -2\n0:03 1 -2''\n0:05 1 -3'''\n0:07 1 -4'\n0:09 1 6o\n0:11 1 10''\n"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	mid, wav := filepath.Join(dir, "x.mid"), filepath.Join(dir, "x.wav")
	if err := os.WriteFile(mid, written(t, d), 0o600); err != nil {
		t.Fatal(err)
	}
	play := exec.Command("fluidsynth", "-ni", "-R", "0", "-C", "0", "-F", wav, programs.FluidBank, mid)
	if out, err := play.CombinedOutput(); err != nil {
		t.Fatalf("fluidsynth: %v\n%s", err, out)
	}
	for _, e := range d.Events {
		clip, _, _, err := decode.Load(wav, decode.Options{Rate: pitch.Rate, From: e.Start + 0.3,
			To: e.Start + 0.8})
		if err != nil {
			t.Fatal(err)
		}
		want := pitch.MIDIToHz(float64(d.Harp.MIDI(e.Actions[0])))
		// the bank's own tuning
		if off := 1200 * math.Log2(fundamental(clip.Samples, want)/want); !(math.Abs(off) < 15) {
			t.Errorf("%s sounds %.0f cents off", tab.Token(e.Actions), off)
		}
	}
}

// fundamental in Hz within a fourth of a guess: the greatest normalised
// autocorrelation.
func fundamental(x []float64, guess float64) float64 {
	corr := func(lag float64) float64 {
		var ab, aa, bb float64
		whole := int(lag)
		part := lag - float64(whole)
		for i := 0; i+whole+1 < len(x); i++ {
			b := x[i+whole]*(1-part) + x[i+whole+1]*part
			ab, aa, bb = ab+x[i]*b, aa+x[i]*x[i], bb+b*b
		}
		return ab / math.Sqrt(aa*bb)
	}
	best, top := 0.0, -1.0
	for cents := -450.0; cents <= 450; cents += 3 {
		hz := guess * math.Pow(2, cents/1200)
		if c := corr(pitch.Rate / hz); c > top {
			best, top = hz, c
		}
	}
	return best
}

// Bar lines of the tab are bar lines of the file: 12/8 with two bars of different
// lengths, from the second bar on a little faster.
func TestBars(t *testing.T) {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\nmeter: 12/8\n" +
		"section: 0:01 to 0:12\n" +
		"0:01.5 0.5 -2\nbar 3 0:02\n0:02 4 -4\nbar 4 0:06\n0:06 1 -4\nbar 5 0:09.6\n0:09.6 1 4\n"))
	if err != nil {
		t.Fatal(err)
	}
	out := byMidicsv(t, d)
	for _, want := range []string{
		"0, Time_signature, 3, 3, 36, 8", "0, Tempo, 666667", // one beat of 1 s before the bar line
		// a bar of four such beats, then of 0.9 s
		"1440, Time_signature, 12, 3, 36, 8", "7200, Tempo, 600000",
		"1440, Note_on_c", "7200, Note_on_c", "12960, Note_on_c",
	} {
		if !bytes.Contains(out, []byte(", "+want)) {
			t.Errorf("no %s in\n%s", want, out)
		}
	}
	m, err := Read(bytes.NewReader(written(t, d)))
	if err != nil || math.Abs(m.BPM-60) > 0.01 && math.Abs(m.BPM-60/0.9) > 0.01 {
		t.Errorf("%g bpm, %v", m.BPM, err)
	}
	if m.Meter != "12/8" || len(m.Bars) < 3 ||
		math.Abs(m.Bars[0]-1)+math.Abs(m.Bars[1]-5)+math.Abs(m.Bars[2]-8.6) > 0.001 {
		t.Errorf("%s, bars at %v; want 12/8 at 1, 5, 8.6", m.Meter, m.Bars)
	}
}

// A damaged file is an error, never a panic.
func TestDamaged(t *testing.T) {
	whole := written(t, invent.Document(1, true))
	for i := range whole {
		bad := slices.Clone(whole)
		bad[i] ^= 0x55
		Read(bytes.NewReader(bad))
		Read(bytes.NewReader(whole[:i]))
	}
	if _, err := Read(strings.NewReader("no music")); err == nil {
		t.Error("text was read as MIDI")
	}
}

func FuzzRead(f *testing.F) {
	var b bytes.Buffer
	if err := Write(&b, invent.Document(1, true)); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := Read(bytes.NewReader(b))
		if err != nil {
			return
		}
		if err := invent.Usable(m); err != nil {
			t.Error(err)
		}
	})
}

// Marks move the bend and the velocity; the note stays what it is.
func TestMarks(t *testing.T) {
	d := invent.Document(3, false)
	plain, err := Read(bytes.NewReader(written(t, d)))
	if err != nil {
		t.Fatal(err)
	}
	before := len(written(t, d))
	for i := range d.Events {
		d.Events[i].Marks = []tab.Mark{{Name: tab.Scoop}, {Name: tab.Vibrato}, {Name: tab.Accent}}
	}
	b := written(t, d)
	if len(b) < 2*before {
		t.Errorf("%d bytes with marks, %d without", len(b), before)
	}
	marked, err := Read(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if len(marked.Parts[0].Notes) != len(plain.Parts[0].Notes) {
		t.Fatal("another number of notes")
	}
	for i, n := range marked.Parts[0].Notes {
		if p := plain.Parts[0].Notes[i]; math.Abs(n.Pitch-p.Pitch) > 0.3 || n.Start != p.Start {
			t.Errorf("note %d: %.2f at %.3f s, want %.2f at %.3f", i, n.Pitch, n.Start, p.Pitch, p.Start)
		}
	}
}

// checkBars wants bar lines that a tab can have.
func checkBars(t *testing.T, seed uint64, d tab.Document) {
	t.Helper()
	var b bytes.Buffer
	if err := tab.WriteText(&b, d); err != nil {
		t.Fatalf("seed %d: %v", seed, err)
	}
}
