package measure

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"

	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// yardstick is a way to have notes written down by programs.
type yardstick struct {
	name  string
	notes func(ref tab.Document, recording, converted string) ([]tab.Event, cost, error)
}

// yardsticks are blowdraw, which is told the harp, and what one would script with
// the programs of aubio; latency is how late the notes of aubionotes come, seconds.
func yardsticks(blowdraw string, latency float64) []yardstick {
	return []yardstick{
		{"aubionotes", func(_ tab.Document, _, converted string) ([]tab.Event, cost, error) {
			return notesProgram(converted, latency)
		}},
		{"aubioonset, aubiopitch", func(_ tab.Document, _, converted string) ([]tab.Event, cost, error) {
			return onsetAndPitch(converted)
		}},
		{"blowdraw", func(ref tab.Document, recording, _ string) ([]tab.Event, cost, error) {
			return blowdrawNotes(blowdraw, ref, recording)
		}},
	}
}

// sums are those of one yardstick over clips.
type sums struct {
	noteF, offF float64
	clips       int
	cost        cost
}

// Yardsticks prints noteF, time and memory of blowdraw and of aubio's
// programs on the clips in dir, one run at a time.
func Yardsticks(ctx context.Context, w io.Writer, dir string, latency, onset float64) error {
	paths, err := truth.In(dir)
	if err != nil {
		return err
	}
	temp, err := os.MkdirTemp("", "measure")
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	blowdraw := filepath.Join(temp, "blowdraw")
	if out, err := exec.CommandContext(ctx, "go", "build", "-o", blowdraw,
		"blowdraw/cmd/blowdraw").CombinedOutput(); err != nil {
		return fmt.Errorf("building blowdraw: %w: %s", err, out)
	}
	sticks := yardsticks(blowdraw, latency)
	total := make([]sums, len(sticks))
	byTier := map[string][]sums{}
	seconds := 0.0
	for _, f := range paths {
		if err := ctx.Err(); err != nil {
			return err
		}
		ref, tier, err := truth.ReadDocument(f)
		if err != nil {
			return err
		}
		recording, converted := filepath.Join(dir, ref.Recording), filepath.Join(temp, "clip.wav")
		length, err := convert(converted, recording)
		if err != nil {
			return err
		}
		seconds += length
		if byTier[tier] == nil {
			byTier[tier] = make([]sums, len(sticks))
		}
		for i, y := range sticks {
			events, c, err := y.notes(ref, recording, converted)
			if err != nil {
				return fmt.Errorf("%s: %w", recording, err)
			}
			m := score.Compare(ref, tab.Document{Recording: ref.Recording, Harp: ref.Harp, Events: events}, onset)
			total[i].add(m, c)
			byTier[tier][i].add(m, c)
		}
	}
	printYardsticks(w, sticks, byTier, total, seconds)
	return nil
}

func (s *sums) add(m score.Measures, c cost) {
	s.noteF, s.offF, s.clips = s.noteF+m.NoteF, s.offF+m.OffsetF, s.clips+1
	s.cost.add(c)
}

// printYardsticks prints noteF for every tier, and what the clips, so many seconds
// of sound, cost as a whole.
func printYardsticks(w io.Writer, sticks []yardstick, byTier map[string][]sums, total []sums,
	seconds float64) {
	row := func(name, format string, of []sums, value func(sums) float64) {
		fmt.Fprintf(w, "%-24s", name)
		for _, s := range of {
			fmt.Fprintf(w, format, value(s))
		}
		fmt.Fprintln(w)
	}
	noteF := func(s sums) float64 { return s.noteF / float64(s.clips) }
	fmt.Fprintf(w, "%-24s", "")
	for _, y := range sticks {
		fmt.Fprintf(w, "%24s", y.name)
	}
	fmt.Fprintln(w)
	var tiers []string
	for t := range byTier {
		tiers = append(tiers, t)
	}
	slices.Sort(tiers)
	for _, t := range tiers {
		row(fmt.Sprintf("noteF %s (%d)", t, byTier[t][0].clips), "%24.3f", byTier[t], noteF)
	}
	row(fmt.Sprintf("noteF all (%d)", total[0].clips), "%24.3f", total, noteF)
	row("offF all", "%24.3f", total, func(s sums) float64 { return s.offF / float64(s.clips) })
	row("processor time, s", "%24.2f", total, func(s sums) float64 { return s.cost.CPU })
	row("times real time", "%24.1f", total, func(s sums) float64 { return seconds / s.cost.CPU })
	row("time passed, s", "%24.2f", total, func(s sums) float64 { return s.cost.Wall })
	row("peak memory, MB", "%24.1f", total, func(s sums) float64 { return float64(s.cost.Bytes) / 1e6 })
	fmt.Fprintf(w, "\n%.1f s of sound; a program is started for every clip, and one runs at a time.\n", seconds)
	fmt.Fprintln(w, "blowdraw reads the clip as it is and is told the harp; aubio's programs, with default")
	fmt.Fprintf(w, "settings, read it as WAV at %d Hz. Times real time are by processor time.\n", aubioRate)
}

// blowdrawNotes has the notes that the program writes for the truth's harp.
func blowdrawNotes(program string, ref tab.Document, recording string) ([]tab.Event, cost, error) {
	out, c, err := runTold(program, "transcribe", recording, "--harp", ref.Harp.Name, "--layout",
		ref.Harp.Layout.Name, "--format", "json")
	if err != nil {
		return nil, c, err
	}
	var d struct {
		Events []struct {
			Start, End float64
			Pitches    []float64
		}
	}
	if err := json.Unmarshal(out, &d); err != nil {
		return nil, c, fmt.Errorf("reading what blowdraw says: %w", err)
	}
	var events []tab.Event
	for _, e := range d.Events {
		events = append(events, tab.Event{Start: e.Start, End: e.End, Pitches: e.Pitches})
	}
	return events, c, nil
}
