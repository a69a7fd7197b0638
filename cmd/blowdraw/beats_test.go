package main

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
)

type barsJSON struct {
	BPM   *float64
	Meter *string
	Bars  []struct {
		Number int
		Start  float64
	}
	Events []struct {
		Start float64
		Place string
	}
}

func TestBarAt(t *testing.T) {
	dir := t.TempDir()
	path := put(t, dir, "swung.wav", wavOf(t, swung(104, 24)))
	beat := 60 / 104.0
	read := func(args ...string) barsJSON {
		t.Helper()
		code, stdout, stderr := command(append([]string{"transcribe", path, "--harp", "C", "--format",
			"json"}, args...)...)
		var d barsJSON
		if err := json.Unmarshal([]byte(stdout), &d); code != 0 || err != nil {
			t.Fatal(stderr, err)
		}
		return d
	}
	if d := read(); len(d.Bars) != 0 {
		t.Errorf("bars of a player alone on even eighths: %+v", d.Bars)
	}
	d := read("--bar-at", "2.308")
	if len(d.Bars) < 5 || *d.Meter != "12/8" || d.Bars[0].Number > 1 {
		t.Fatalf("%+v", d)
	}
	for _, b := range d.Bars {
		if want := float64(4*b.Number) * beat; math.Abs(b.Start-want) > 0.08 {
			t.Errorf("bar %d at %g s, want %g", b.Number, b.Start, want)
		}
	}
	for _, e := range d.Events {
		if e.Place == "" || !strings.HasSuffix(e.Place, "+2/3") && strings.Contains(e.Place, "+") {
			t.Errorf("%q at %g s, which is not swung in two thirds", e.Place, e.Start)
		}
	}
	waltz := read("--bar-at", "0:02.308", "--meter", "3/4")
	if b := waltz.Bars; *waltz.Meter != "3/4" || math.Abs(b[2].Start-b[1].Start-3*beat) > 0.05 {
		t.Errorf("3/4: %+v", b)
	}
	taps := put(t, dir, "taps.txt", []byte("# by foot\n0.5\n1\n\n1.6\n2.1\n2.6\n3.2\n3.7\n4.2\n"))
	tapped := read("--taps", taps, "--bar-at", "1.6")
	if b := tapped.Bars; len(b) != 2 || b[0].Start != 1.6 || b[1].Start != 3.7 || b[0].Number != 1 ||
		math.Abs(*tapped.BPM-113.5) > 3 {
		t.Errorf("taps: %+v, %g bpm", b, *tapped.BPM)
	}
	counted := put(t, dir, "counted.txt", []byte("0.5 3\n1 4\n1.6 1\n2.1 2\n2.6 3\n3.2 4\n3.7 1\n4.2 2\n"))
	if b := read("--taps", counted).Bars; !reflect.DeepEqual(b, tapped.Bars) {
		t.Errorf("counted: %+v", b)
	}
}

func TestReadTaps(t *testing.T) {
	for text, want := range map[string]int{"0.5\r\n# x\n 1.25 \n\n3": -1, "0.5 4\n1.25\t1\n3 2": 1,
		"0.5 1\n1.25 1\n3": 0} {
		got, one, err := readTaps(strings.NewReader(text))
		if err != nil || one != want || !reflect.DeepEqual(got, []float64{0.5, 1.25, 3}) {
			t.Errorf("%q: %v, first of a bar %d, %v", text, got, one, err)
		}
	}
	for text, say := range map[string]string{
		"": "0 beats", "1\n": "1 beat,", "1\nx\n": `line 2: "x"`, "1\n\n1\n": "line 3", "-1\n2\n": "line 1",
		"NaN\n2": "line 1", "1\n1e99": "line 2",
		"1 one\n2": `line 1: "one" is not the number`, "1 1\n2 0": "line 2", "1 1 2\n2": "line 1",
	} {
		if _, _, err := readTaps(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%q: %v, want %q", text, err, say)
		}
	}
}

func TestBeatTrouble(t *testing.T) {
	path := put(t, t.TempDir(), "one.wav", wavOf(t, swung(104, 4)))
	for _, c := range []struct {
		args []string
		say  string
	}{
		{[]string{"--meter", "5/4"}, "12/8"},
		{[]string{"--bar-at", "soon"}, "--bar-at"},
		{[]string{"--taps", path, "--bpm", "100"}, "both"},
	} {
		code, stdout, stderr := command(append([]string{"transcribe", path, "--harp", "C"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, exitUsage, c.say)
	}
	for _, file := range []string{path, path + ".none"} {
		code, stdout, stderr := command("transcribe", path, "--harp", "C", "--taps", file)
		checkTrouble(t, code, stdout, stderr, exitFailed, "reading the taps")
	}
}
