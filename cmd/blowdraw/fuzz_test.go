package main

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strings"
	"testing"

	"blowdraw/tabber"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// Whatever flags say of beats, and whatever stands in a file of taps: an error, or
// beats and bars that can be used.
func FuzzBeats(f *testing.F) {
	f.Add("0.5\n1.0\n# a breath\n\n1.5\n", "12/8", "1:23.4", "twelve-bar")
	f.Add("1e300\n", "4/4", "0", "none")
	f.Add("0x1p-2\n+1\n1_000\r\n", "3/4", "1:02:03", "")
	f.Add("-0\nInf\nNaN\n", "", "-1", "sonata")
	f.Fuzz(func(t *testing.T, taps, meter, barAt, form string) {
		if times, one, err := readTaps(strings.NewReader(taps)); err == nil {
			if one < -1 || one >= len(times) {
				t.Errorf("first beat %d of %d", one, len(times))
			}
			checkTaps(t, times)
		}
		c := &cobra.Command{Use: "any"}
		c.SetErr(io.Discard)
		var flags beatFlags
		flags.add(c)
		flags.meter, flags.barAt, flags.form = meter, barAt, form
		var opt tabber.Options
		if err := flags.options(c, &opt); err != nil {
			if _, ok := err.(usageError); !ok ||
				len(err.Error()) > 300+len(meter)*4+len(barAt)*4+len(form)*4 {
				t.Errorf("%T %v", err, err)
			}
			return
		}
		if opt.Meter != "" && tab.Meters[opt.Meter] == 0 || opt.BarAt != nil &&
			!(*opt.BarAt >= 0 && *opt.BarAt < math.Inf(1)) {
			t.Errorf("meter %q, bar at %q: %+v", meter, barAt, opt)
		}
	})
}

func checkTaps(t *testing.T, times []float64) {
	t.Helper()
	if len(times) < 2 {
		t.Errorf("taps %v", times)
	}
	for i, s := range times {
		if !(s >= 0 && s < math.Inf(1)) || i > 0 && s <= times[i-1] {
			t.Errorf("taps %v", times)
		}
	}
}

// Any file in the place of a tab: told in a few lines and an error, or phrases in every
// format. The command's own flags are made once, since making all commands takes longer
// than reading a tab.
func FuzzPhrases(f *testing.F) {
	for _, s := range []string{phrasedTab, barredTab, tabHead, "", "RIFF\x00\x00\x00\x00WAVE", "%PDF-1.4\n"} {
		f.Add([]byte(s))
	}
	c := &cobra.Command{Use: "any"}
	var flags phrasesFlags
	flags.harp.add(c)
	flags.section.add(c)
	flags.beats.add(c)
	flags.format = "table"
	task, err := flags.task(c)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 4096 {
			return
		}
		c.SetIn(bytes.NewReader(b))
		var stderr bytes.Buffer
		d, err := flags.document(c, &stderr, stdinName, task)
		if err == nil {
			d, err = flags.beats.lay(d, task.opt, stdinName)
		}
		if n := bytes.Count(stderr.Bytes(), []byte("\n")); n > mostMistakes+1 {
			t.Errorf("%d lines on stderr", n)
		}
		if err != nil {
			if strings.Count(err.Error(), "\n") > 0 {
				t.Errorf("error of several lines: %v", err)
			}
			return
		}
		table := phraseTableOf(d)
		table.strip = phrasing.Strip(d, table.width)
		var text, data, csv bytes.Buffer
		if err := writePhraseTable(&text, table); err != nil {
			t.Error(err)
		}
		if err := writePhraseJSON(&data, table); err != nil || !json.Valid(data.Bytes()) {
			t.Errorf("%v, JSON %s", err, data.Bytes())
		}
		if err := writePhraseCSV(&csv, table); err != nil || csv.Len() == 0 {
			t.Errorf("%v, CSV %q", err, csv.Bytes())
		}
	})
}
