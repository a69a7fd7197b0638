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
	tapDelay           float64 // ms
	form               string
}

func (f *beatFlags) add(c *cobra.Command) {
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "beats a minute (default: measured)")
	c.Flags().StringVar(&f.meter, "meter", "", "4/4, 12/8 (four beats in triplets) or 3/4 (default: 4/4 or "+
		"12/8, as it is played)")
	c.Flags().StringVar(&f.barAt, "bar-at", "", "when bar 1 begins: 83.4 or 1:23.4 (default: found from the "+
		"band, if it is clear)")
	c.Flags().StringVar(&f.form, "form", "", "form of the song: "+formNames()+" or none (default: found "+
		"from the band, if it is clear); with --bar-at it begins there")
	f.addTaps(c)
}

func (f *beatFlags) addTaps(c *cobra.Command) {
	c.Flags().StringVar(&f.taps, "taps", "", "file of beats tapped along, seconds, one a line, if counted "+
		"with 1, 2, 3, 4 behind")
	c.Flags().Float64Var(&f.tapDelay, "tap-delay", 0, "with --taps: by how many ms they are late, less than 0 "+
		"for early (default: found from the notes)")
}

// addLaid adds the flags that lay bars over a tab.
func (f *beatFlags) addLaid(c *cobra.Command) {
	c.Flags().StringVar(&f.barAt, "bar-at", "", "lay bars over the tab: when bar 1 begins, 83.4 or 1:23.4")
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "beats a minute that bars are laid by (default: as the tab says)")
	c.Flags().StringVar(&f.meter, "meter", "", "meter that bars are laid in: 4/4, 12/8 (four beats in "+
		"triplets) or 3/4 (default: as the tab says, or 4/4)")
	f.addTaps(c)
}

// forTab checks the flags that lay bars over a tab.
func (f *beatFlags) forTab(c *cobra.Command, opt tabber.Options) error {
	if opt.BarAt == nil && len(opt.Taps) > 0 {
		return usage(c, "--taps: which of the beats begins a bar? Say --bar-at TIME, or count them in the "+
			"file: a 1 behind each that does")
	}
	return nil
}

// lay lays bars over a tab as the flags say. Without --bar-at those that it has keep their first
// one, and follow a tempo or meter that is given.
func (f *beatFlags) lay(d tab.Document, opt tabber.Options, name string) (tab.Document, error) {
	if f.bpm > 0 {
		d.BPM = f.bpm
	}
	switch {
	case opt.BarAt != nil:
	case f.bpm == 0 && opt.Meter == "", len(d.Bars) == 0 && opt.Meter == "":
		return d, nil
	case len(d.Bars) == 0:
		return d, fmt.Errorf("laying bars over %s: it has none that --meter could move; say --bar-at TIME", name)
	default:
		return f.relay(d, opt, name)
	}
	taps := opt.Taps
	if len(taps) > 0 {
		delay := opt.TapDelay
		if delay == nil {
			var starts []float64
			for _, e := range d.Events {
				starts = append(starts, e.Start)
			}
			found := beat.TapDelay(taps, beat.Strength{Hop: 1}, starts)
			delay = &found
		}
		taps = beat.Earlier(taps, *delay)
		d.Notes = append(d.Notes, tapNote(*delay)...)
	}
	laid, err := tab.LayBars(d, *opt.BarAt, opt.Meter, taps)
	if err != nil {
		return d, fmt.Errorf("laying bars over %s: %w; give --bpm, or --taps", name, err)
	}
	return laid, nil
}

// relay lays the bars of a tab anew, at its tempo and the meter of the flags, from bar 1 on or the
// first that it has. In the same meter they keep their chords.
func (f *beatFlags) relay(d tab.Document, opt tabber.Options, name string) (tab.Document, error) {
	from := d.Bars[0]
	for _, b := range d.Bars {
		if b.Number == 1 {
			from = b
		}
	}
	if d.BPM == 0 && len(d.Bars) > 1 {
		n := len(d.Bars) - 1
		d.BPM = 60 * float64(n*d.BeatsInBar()) / (d.Bars[n].Start - d.Bars[0].Start)
	}
	out, err := tab.LayBars(d, from.Start, opt.Meter, nil)
	if err != nil {
		return d, fmt.Errorf("laying bars over %s: %w; give --bpm", name, err)
	}
	chords := map[int]string{}
	if out.BeatsInBar() == d.BeatsInBar() {
		out.Form = d.Form
		for _, b := range d.Bars {
			chords[b.Number] = b.Chord
		}
	}
	for i := range out.Bars {
		out.Bars[i].Number += from.Number - 1
		out.Bars[i].Chord = chords[out.Bars[i].Number]
	}
	return out, nil
}

// tapNote says by how many seconds taps are taken to be late.
func tapNote(delay float64) []string {
	ms := math.Round(1000 * math.Abs(delay))
	if ms == 0 {
		return nil
	}
	way := "late"
	if delay < 0 {
		way = "early"
	}
	return []string{fmt.Sprintf("the taps are taken to be %.0f ms %s (--tap-delay says by how much)", ms, way)}
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
	if c.Flags().Changed("tap-delay") {
		if !(math.Abs(f.tapDelay) <= 1000) {
			return usage(c, "--tap-delay %g: want -1000 to 1000 ms", f.tapDelay)
		}
		if f.taps == "" {
			return usage(c, "--tap-delay goes with --taps")
		}
		seconds := f.tapDelay / 1000
		opt.TapDelay = &seconds
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
	taps, one, err := readTaps(file)
	if err != nil {
		return fmt.Errorf("reading the taps in %s: %w", f.taps, err)
	}
	if opt.Taps = taps; opt.BarAt == nil && one >= 0 {
		opt.BarAt = &taps[one]
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

// readTaps reads times in seconds, ascending, one a line, each with its number in the
// bar behind it or not; blank lines and lines that begin with # do not count. one is the
// index of the first with number 1, -1 if none has.
func readTaps(r io.Reader) (taps []float64, one int, err error) {
	one = -1
	scan := bufio.NewScanner(r)
	for n := 1; scan.Scan(); n++ {
		words := strings.Fields(scan.Text())
		if len(words) == 0 || strings.HasPrefix(words[0], "#") {
			continue
		}
		t, err := strconv.ParseFloat(words[0], 64)
		if err != nil || !(t >= 0 && t < math.MaxInt32) {
			return nil, -1, fmt.Errorf("line %d: %q is not a time in seconds", n, shorten(words[0], 40))
		}
		if len(taps) > 0 && t <= taps[len(taps)-1] {
			return nil, -1, fmt.Errorf("line %d: %g s does not come after %g s", n, t, taps[len(taps)-1])
		}
		if len(words) > 1 {
			k, err := strconv.Atoi(words[1])
			if err != nil || k < 1 || len(words) > 2 {
				return nil, -1, fmt.Errorf("line %d: %q is not the number of a beat",
					n, shorten(strings.Join(words[1:], " "), 40))
			}
			if k == 1 && one < 0 {
				one = len(taps)
			}
		}
		taps = append(taps, t)
	}
	if err := scan.Err(); err != nil {
		return nil, -1, err
	}
	if len(taps) < 2 {
		return nil, -1, fmt.Errorf("%s, want at least 2", count(len(taps), "beat"))
	}
	return taps, one, nil
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
	out := tapNote(r.TapDelay)
	if len(words) > 0 {
		out = append(out, strings.Join(words, "; "))
	}
	switch {
	case r.Bars.Three:
		out = append(out, "no bars, three beats to the bar seem likelier than four: if so, --meter 3/4, if "+
			"not, --meter 4/4")
	case len(r.Tempo.Beats) > 1 && r.Bars.Sure < form.SureFrom:
		hint := "--bar-at TIME tells it"
		if len(r.Events) > 0 {
			at := tab.Clock(r.Events[0].Start)
			hint = fmt.Sprintf("if on the first note, --bar-at %s, or a line bar 1 %s above it, tells so",
				at, at)
		}
		out = append(out, "no bars, where they begin is not clear: "+hint)
	}
	return out
}
