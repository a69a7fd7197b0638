package measure

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// Aubio scores the notes that aubionotes (Debian package aubio-tools), with its default
// settings, finds in the clips of a folder; they come latency seconds late. It tells
// neither holes nor phrases: all but the notes is left out.
func Aubio(ctx context.Context, dir string, latency, onset float64) ([]Clip, error) {
	return eachClip(ctx, dir, func(path string) (Clip, error) { return aubioNotes(path, latency, onset) })
}

func aubioNotes(path string, latency, onset float64) (Clip, error) {
	ref, tier, err := truth.ReadDocument(path)
	if err != nil {
		return Clip{}, err
	}
	recording := filepath.Join(filepath.Dir(path), ref.Recording)
	dir, err := os.MkdirTemp("", "measure")
	if err != nil {
		return Clip{}, fmt.Errorf("converting %s: %w", recording, err)
	}
	defer os.RemoveAll(dir)
	wav := filepath.Join(dir, "clip.wav")
	if _, err := convert(wav, recording); err != nil {
		return Clip{}, err
	}
	events, _, err := notesProgram(wav, latency)
	if err != nil {
		return Clip{}, fmt.Errorf("%s: %w", recording, err)
	}
	est := tab.Document{Recording: ref.Recording, Harp: ref.Harp, Events: events}
	m, nan := score.Compare(ref, est, onset), math.NaN()
	m = score.Measures{
		NoteF: m.NoteF, OffsetF: m.OffsetF, TabF: nan, TextureF: nan, Splits: nan, PhraseF: nan,
		Tempo: nan, Bars: nan, Barred: nan, Grid: nan, Tuning: nan,
		SureRight: nan, SureShare: nan, Playing: nan, Extra: nan, ExtraSure: nan, Level: nan,
	}
	return Clip{Name: truth.Name(path), Tier: tier, Measures: m, Est: est}, nil
}

// aubioRate is the rate in Hz that recordings are given to aubionotes at: its
// windows, and so its latency, are a number of samples.
const aubioRate = 44100

// convert writes a recording as WAV at aubioRate and returns its length in seconds.
func convert(to, from string) (float64, error) {
	c, _, _, err := decode.Load(from, decode.Options{Rate: aubioRate})
	if err != nil {
		return 0, err
	}
	f, err := os.Create(to)
	if err != nil {
		return 0, fmt.Errorf("converting %s: %w", from, err)
	}
	if err := decode.WriteWAV(f, c); err != nil {
		f.Close()
		return 0, fmt.Errorf("converting %s: %w", from, err)
	}
	return float64(len(c.Samples)) / aubioRate, f.Close()
}

// notesProgram has the notes of aubionotes.
func notesProgram(wav string, latency float64) ([]tab.Event, cost, error) {
	out, c, err := runTold("aubionotes", "-i", wav)
	if err != nil {
		return nil, c, fmt.Errorf("%w (Debian package aubio-tools)", err)
	}
	notes, err := parseAubio(string(out), latency)
	return eventsOf(notes), c, err
}

func eventsOf(notes []compare.Note) []tab.Event {
	var events []tab.Event
	for _, n := range notes {
		events = append(events, tab.Event{Start: n.Onset, End: n.Offset, Pitches: []float64{n.Pitch}})
	}
	return events
}

// onsetAndPitch puts together the starts that aubioonset finds and the pitches of
// aubiopitch: a note lasts from a start to the next, or until the pitch is gone, at
// the median of its pitches.
func onsetAndPitch(wav string) ([]tab.Event, cost, error) {
	out, c, err := runTold("aubioonset", "-i", wav)
	if err != nil {
		return nil, c, err
	}
	starts, err := columnsOf(string(out), 1)
	if err != nil {
		return nil, c, fmt.Errorf("reading what aubioonset says: %w", err)
	}
	out, more, err := runTold("aubiopitch", "-i", wav, "-u", "midi")
	c.add(more)
	if err != nil {
		return nil, c, err
	}
	frames, err := columnsOf(string(out), 2)
	if err != nil {
		return nil, c, fmt.Errorf("reading what aubiopitch says: %w", err)
	}
	return eventsOf(joined(starts, frames)), c, nil
}

// joined makes notes of starts ({seconds}) and frames ({seconds, MIDI number or 0}).
func joined(starts, frames [][]float64) []compare.Note {
	var notes []compare.Note
	for i, s := range starts {
		until := math.Inf(1)
		if i+1 < len(starts) {
			until = starts[i+1][0]
		}
		var pitches []float64
		end := s[0]
		for _, f := range frames {
			if f[0] < s[0] || f[0] >= until || f[1] <= 0 {
				continue
			}
			pitches, end = append(pitches, f[1]), f[0]
		}
		if len(pitches) > 0 && end > s[0] {
			notes = append(notes, compare.Note{Onset: s[0], Offset: end, Pitch: pitch.Median(pitches)})
		}
	}
	return notes
}

// parseAubio reads what aubionotes prints: lines of pitch (MIDI number), onset and
// offset (seconds). Lines of one value are the ends of silences before the first and
// after the last note.
func parseAubio(out string, latency float64) ([]compare.Note, error) {
	lines, err := numbers(out, 3)
	if err != nil {
		return nil, err
	}
	var notes []compare.Note
	for _, v := range lines {
		if len(v) == 3 {
			notes = append(notes, compare.Note{Onset: v[1] - latency, Offset: v[2] - latency, Pitch: v[0]})
		}
	}
	return notes, nil
}

// columnsOf is what aubio's other programs print: so many numbers a line.
func columnsOf(out string, columns int) ([][]float64, error) {
	lines, err := numbers(out, columns)
	for _, v := range lines {
		if len(v) != columns {
			return nil, fmt.Errorf("a line of %d numbers instead of %d", len(v), columns)
		}
	}
	return lines, err
}

// numbers are those on each line that is not blank, so many at most.
func numbers(out string, most int) ([][]float64, error) {
	var lines [][]float64
	for line := range strings.Lines(out) {
		fields := strings.Fields(line)
		if len(fields) == 0 {
			continue
		}
		if len(fields) > most {
			return nil, fmt.Errorf("the line %q has more than %d numbers", line, most)
		}
		v := make([]float64, len(fields))
		for i, s := range fields {
			var err error
			if v[i], err = strconv.ParseFloat(s, 64); err != nil {
				return nil, fmt.Errorf("in the line %q: %w", line, err)
			}
		}
		lines = append(lines, v)
	}
	return lines, nil
}
