package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber/score"
	"blowdraw/tabber/tab"
)

// aubioNotes scores the notes that aubionotes, with its default settings, finds
// in a clip. It tells neither holes nor phrases, so all but the notes is NaN.
func aubioNotes(path string, latency, onset float64) (clip, error) {
	ref, tier, err := score.ReadTruth(path)
	if err != nil {
		return clip{}, err
	}
	notes, err := runAubio(filepath.Join(filepath.Dir(path), ref.Recording), latency)
	if err != nil {
		return clip{}, err
	}
	est := tab.Document{Recording: ref.Recording, Harp: ref.Harp}
	for _, n := range notes {
		est.Events = append(est.Events, tab.Event{Start: n.Onset, End: n.Offset, Pitches: []float64{n.Pitch}})
	}
	m, nan := score.Compare(ref, est, onset), math.NaN()
	m = score.Measures{
		NoteF: m.NoteF, OffsetF: m.OffsetF, TabF: nan, TextureF: nan, Splits: nan, PhraseF: nan,
		Tempo: nan, Tuning: nan, SureRight: nan, SureShare: nan, Playing: nan, False: nan, Level: nan,
	}
	return clip{name: strings.TrimSuffix(filepath.Base(path), ".truth.json"), tier: tier, measures: m, est: est}, nil
}

// aubioRate is the rate in Hz that recordings are given to aubionotes at: its
// windows, and so its latency, are a number of samples.
const aubioRate = 44100

// runAubio returns the notes of a recording, latency seconds earlier than
// aubionotes says.
func runAubio(recording string, latency float64) ([]score.Note, error) {
	dir, err := os.MkdirTemp("", "measure")
	if err != nil {
		return nil, fmt.Errorf("converting %s: %w", recording, err)
	}
	defer os.RemoveAll(dir)
	input := filepath.Join(dir, "clip.wav")
	if err := convert(input, recording); err != nil {
		return nil, err
	}
	out, err := exec.Command("aubionotes", "-i", input).Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return nil, fmt.Errorf("running aubionotes on %s: %w: %s", recording, err, exit.Stderr)
	}
	if err != nil {
		return nil, fmt.Errorf("running aubionotes (Debian package aubio-tools): %w", err)
	}
	notes, err := parseAubio(string(out), latency)
	if err != nil {
		return nil, fmt.Errorf("reading what aubionotes says of %s: %w", recording, err)
	}
	return notes, nil
}

// convert writes a recording as WAV at aubioRate.
func convert(to, from string) error {
	c, _, _, err := decode.Load(from, decode.Options{Rate: aubioRate})
	if err != nil {
		return err
	}
	f, err := os.Create(to)
	if err != nil {
		return fmt.Errorf("converting %s: %w", from, err)
	}
	if err := decode.WriteWAV(f, c); err != nil {
		f.Close()
		return fmt.Errorf("converting %s: %w", from, err)
	}
	return f.Close()
}

// parseAubio reads lines of pitch (MIDI number), onset and offset (seconds).
// Lines of one value are the ends of silences before the first and after the
// last note.
func parseAubio(out string, latency float64) ([]score.Note, error) {
	var notes []score.Note
	for line := range strings.Lines(out) {
		fields := strings.Fields(line)
		var v [3]float64
		if len(fields) > len(v) {
			return nil, fmt.Errorf("the line %q has more than three values", line)
		}
		for i, s := range fields {
			var err error
			if v[i], err = strconv.ParseFloat(s, 64); err != nil {
				return nil, fmt.Errorf("in the line %q: %w", line, err)
			}
		}
		if len(fields) == len(v) {
			notes = append(notes, score.Note{Onset: v[1] - latency, Offset: v[2] - latency, Pitch: v[0]})
		}
	}
	return notes, nil
}
