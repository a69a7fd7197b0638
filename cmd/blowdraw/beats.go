package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"blowdraw/decode"
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/tabber"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// beatFlags say what is known of tempo, beats and bars.
type beatFlags struct {
	bpm                float64
	meter, barAt, taps string
	form               string
}

func (f *beatFlags) add(c *cobra.Command) {
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "beats a minute (default: measured)")
	c.Flags().StringVar(&f.meter, "meter", "", "4/4, 12/8 (four beats in triplets) or 3/4 (default: 4/4 or 12/8, as it is played)")
	c.Flags().StringVar(&f.barAt, "bar-at", "", "when bar 1 begins: 83.4 or 1:23.4 (default: found from the band, if it is clear)")
	c.Flags().StringVar(&f.form, "form", "", "form of the song: "+formNames()+" or none (default: found from the band, if it is clear); with --bar-at it begins there")
	c.Flags().StringVar(&f.taps, "taps", "", "file of beats tapped along, seconds, one a line")
}

// options puts what the flags say into opt.
func (f *beatFlags) options(c *cobra.Command, opt *tabber.Options) error {
	if c.Flags().Changed("bpm") {
		if !(f.bpm >= 20 && f.bpm <= 400) {
			return usage(c, "--bpm %g: want 20 to 400 beats a minute", f.bpm)
		}
		opt.BPM = f.bpm
	}
	if f.meter != "" && tab.Meters[f.meter] == 0 {
		return usage(c, "--meter %q: want 4/4, 12/8 or 3/4", f.meter)
	}
	opt.Meter = f.meter
	if err := f.forms(c, opt); err != nil {
		return err
	}
	if f.barAt != "" {
		at, err := decode.ParseTime(f.barAt)
		if err != nil {
			return usage(c, "--bar-at: %w", err)
		}
		opt.BarAt = &at
	}
	if f.taps == "" {
		return nil
	}
	if opt.BPM > 0 {
		return usage(c, "--bpm and --taps can't both be given")
	}
	file, err := os.Open(f.taps)
	if err != nil {
		return fmt.Errorf("reading the taps: %w", err)
	}
	defer file.Close()
	if opt.Taps, err = readTaps(file); err != nil {
		return fmt.Errorf("reading the taps in %s: %w", f.taps, err)
	}
	return nil
}

// forms puts the forms that the song may have into opt.
func (f *beatFlags) forms(c *cobra.Command, opt *tabber.Options) error {
	all := form.Forms()
	switch i := slices.IndexFunc(all, func(x form.Form) bool { return x.Name == f.form }); {
	case f.form == "":
		opt.Forms = all
	case i >= 0:
		opt.Forms = all[i : i+1]
	case f.form != "none":
		return usage(c, "--form %q: want %s or none", f.form, formNames())
	}
	return nil
}

func formNames() string {
	var names []string
	for _, f := range form.Forms() {
		names = append(names, f.Name)
	}
	return strings.Join(names, ", ")
}

// readTaps reads times in seconds, ascending, one a line; blank lines and lines
// that begin with # do not count.
func readTaps(r io.Reader) ([]float64, error) {
	var out []float64
	scan := bufio.NewScanner(r)
	for n := 1; scan.Scan(); n++ {
		text := strings.TrimSpace(scan.Text())
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		t, err := strconv.ParseFloat(text, 64)
		if err != nil || !(t >= 0 && t < math.MaxInt32) {
			return nil, fmt.Errorf("line %d: %q is not a time in seconds", n, shorten(text, 40))
		}
		if len(out) > 0 && t <= out[len(out)-1] {
			return nil, fmt.Errorf("line %d: %g s does not come after %g s", n, t, out[len(out)-1])
		}
		out = append(out, t)
	}
	if err := scan.Err(); err != nil {
		return nil, err
	}
	if len(out) < 2 {
		return nil, fmt.Errorf("%s, want at least 2", count(len(out), "beat"))
	}
	return out, nil
}

// tempoNote says how the beats are divided, what else a measured tempo may be, and
// whether the bars are known.
func tempoNote(r tabber.Result) []string {
	var words []string
	switch t := r.Tempo; {
	case t.Feel == beat.Swing:
		words = append(words, fmt.Sprintf("swung eighths, %.1f to 1", t.SwingRatio))
	case t.Feel == beat.Straight:
		words = append(words, "straight eighths")
	case t.Feel == beat.Triplet:
		words = append(words, "beats in triplets")
	}
	if r.Tempo.Alternative > 0 {
		words = append(words, fmt.Sprintf("if the tempo is wrong, try --bpm %.1f", r.Tempo.Alternative))
	}
	var out []string
	if len(words) > 0 {
		out = append(out, strings.Join(words, "; "))
	}
	if len(r.Tempo.Beats) > 1 && r.Bars.Sure < form.SureFrom {
		hint := "--bar-at TIME tells it"
		if len(r.Events) > 0 {
			at := fineClock(r.Events[0].Start)
			hint = fmt.Sprintf("if on the first note, --bar-at %s, or a line bar 1 %s above it, tells so", at, at)
		}
		out = append(out, "no bars, where they begin is not clear: "+hint)
	}
	return out
}
