package measure

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// Annotated is a recording that people annotated and how far the transcription agrees.
type Annotated struct {
	Name, Tier string
	score.Agreement
}

// Real transcribes every recording of a folder and compares it with what people
// annotated.
func Real(ctx context.Context, dir string, o Options) ([]Annotated, error) {
	return eachClip(ctx, dir, func(path string) (Annotated, error) {
		return annotated(path, func(f truth.File, ref tab.Document) ([]tab.Event, error) {
			h, err := hear(ctx, path, ref, o)
			return h.doc.Events, err
		})
	})
}

// RealWritten is [Real] of transcriptions that are written already, as JSON: NAME.json in
// a folder of results. Recordings that have none there are left out.
func RealWritten(ctx context.Context, dir, results string) ([]Annotated, error) {
	all, err := eachClip(ctx, dir, func(path string) (Annotated, error) {
		written := filepath.Join(results, truth.Name(path)+".json")
		if _, err := os.Stat(written); errors.Is(err, fs.ErrNotExist) {
			return Annotated{}, nil
		}
		return annotated(path, func(truth.File, tab.Document) ([]tab.Event, error) { return readEvents(written) })
	})
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(a Annotated) bool { return a.Name == "" })
	if len(all) == 0 {
		return nil, fmt.Errorf("no transcription in %s is of a recording of %s", results, dir)
	}
	return all, nil
}

func annotated(path string, write func(truth.File, tab.Document) ([]tab.Event, error)) (Annotated, error) {
	f, err := truth.Read(path)
	if err != nil {
		return Annotated{}, err
	}
	ref, err := f.Document()
	if err != nil {
		return Annotated{}, fmt.Errorf("reading %s: %w", path, err)
	}
	events, err := write(f, ref)
	if err != nil {
		return Annotated{}, err
	}
	a, err := score.Agree(f, events)
	return Annotated{truth.Name(path), f.Tier, a}, err
}

// readEvents reads those of a transcription as [tab.WriteJSON] writes it: times, actions
// and confidence.
func readEvents(path string) ([]tab.Event, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("reading a transcription: %w", err)
	}
	var d struct {
		Events []struct {
			Start, End, Confidence float64
			Breath                 string
			Holes, Bends           []int
		}
	}
	if err := json.Unmarshal(data, &d); err != nil {
		return nil, fmt.Errorf("reading %s: %w", path, err)
	}
	var out []tab.Event
	for i, e := range d.Events {
		if len(e.Bends) != len(e.Holes) {
			return nil, fmt.Errorf("reading %s: event %d has %d bends for %d holes", path, i+1, len(e.Bends),
				len(e.Holes))
		}
		x := tab.Event{Start: e.Start, End: e.End, Confidence: e.Confidence}
		for k, hole := range e.Holes {
			a := harp.Action{Hole: hole, Bend: e.Bends[k]}
			if e.Breath == harp.Draw.String() {
				a.Breath = harp.Draw
			}
			x.Actions = append(x.Actions, a)
		}
		out = append(out, x)
	}
	return out, nil
}

// figures of the table of real recordings, in order.
var figures = []struct {
	name, format string
	of           func(score.Agreement) score.Figure
}{
	{"sureR", "%8.3f", score.Agreement.Right},
	{"anyF", "%8.3f", score.Agreement.F},
	{"timeT", "%8.3f", score.Agreement.TimeRight},
	{"timeP", "%8.3f", score.Agreement.TimePitch},
	{"extra", "%8.1f", score.Agreement.ExtraAMinute},
	{"p90", "%8.3f", score.Agreement.SureIsRight},
	{"c90", "%8.3f", score.Agreement.SureShare},
	{"ECE", "%8.3f", score.Agreement.CalibrationError},
}

// PrintReal prints the figures of each recording, of each tier and of all, between which
// values they lie if other recordings had been taken, and how early or late starts and
// ends are written.
func PrintReal(w io.Writer, all []Annotated) {
	printRealHead(w, "clip")
	for _, a := range all {
		printAgreement(w, a.Name, a.Agreement)
	}
	fmt.Fprintln(w)
	printRealTiers(w, all)
	fmt.Fprint(w, `
sureR: share of the events that the annotators agree on that is written: start within 0.1 s, same
action. anyF: F of all annotated events. timeT: share of the agreed events' time in which just that
is written; timeP: in which its pitches are. extra: events a minute where nothing is annotated.
p90: share right of what is written with confidence 0.9 or more in the middle of an agreed event;
c90: share of what is written that has it. ECE: expected calibration error there. From, to: 5 and
95 % of 2000 draws of the clips with replacement.
`)
}

func printRealHead(w io.Writer, what string) {
	fmt.Fprintf(w, "%-20s%8s%8s", what, "events", "agreed")
	for _, f := range figures {
		fmt.Fprintf(w, "%8s", f.name)
	}
	fmt.Fprintln(w)
}

// PrintRealTiers prints of [PrintReal] what is told of each tier and of all.
func PrintRealTiers(w io.Writer, all []Annotated) {
	printRealHead(w, "tier")
	printRealTiers(w, all)
}

func printRealTiers(w io.Writer, all []Annotated) {
	var tiers []string
	for _, a := range all {
		if !slices.Contains(tiers, a.Tier) {
			tiers = append(tiers, a.Tier)
		}
	}
	for _, t := range tiers {
		printTier(w, t, slices.DeleteFunc(slices.Clone(all), func(a Annotated) bool { return a.Tier != t }))
	}
	if len(tiers) > 1 {
		printTier(w, "all", all)
	}
}

// printTier prints the sums over recordings and their spread.
func printTier(w io.Writer, name string, of []Annotated) {
	var parts []score.Agreement
	for _, a := range of {
		parts = append(parts, a.Agreement)
	}
	sum := score.Sum(parts)
	printAgreement(w, fmt.Sprintf("%s (%d)", name, len(of)), sum)
	low, high := fmt.Sprintf("%-36s", "  from"), fmt.Sprintf("%-36s", "  to")
	for _, f := range figures {
		from, to, ok := score.Bootstrap(parts,
			func(drawn []score.Agreement) score.Figure { return f.of(score.Sum(drawn)) })
		low, high = low+cell(f.format, from, ok), high+cell(f.format, to, ok)
	}
	fmt.Fprintf(w, "%s\n%s\n", low, high)
	printLateness(w, "  starts", sum.Starts)
	printLateness(w, "  ends", sum.Ends)
}

func printAgreement(w io.Writer, name string, a score.Agreement) {
	fmt.Fprintf(w, "%-20s%8d%8d", name, a.Events, a.Agreed)
	for _, f := range figures {
		v, ok := f.of(a).Value()
		fmt.Fprint(w, cell(f.format, v, ok))
	}
	fmt.Fprintln(w)
}

// cell of a table, of the width that its format has.
func cell(format string, v float64, ok bool) string {
	if !ok {
		return fmt.Sprintf("%8s", "-")
	}
	return fmt.Sprintf(format, v)
}

// printLateness prints how late times in seconds are written.
func printLateness(w io.Writer, name string, late []float64) {
	if m, low, high, ok := score.Middle(late); ok {
		fmt.Fprintf(w, "%-10s of %d agreed events late by a median %+.0f ms, 10 to 90 %%: %+.0f to %+.0f ms\n",
			name, len(late), 1000*m, 1000*low, 1000*high)
	}
}
