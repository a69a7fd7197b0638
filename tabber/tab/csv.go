package tab

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
)

var csvColumns = []string{
	"start", "end", "length", "phrase", "tab", "breath", "holes", "bends", "notes", "degrees", "interval",
	"pitches", "texture", "confidence", "alternatives", "comment", "marks", "loudness",
	"place", "chord", "chord_degrees", "doubts", "checked",
}

// WriteCSV writes the events as comma-separated values (RFC 4180, but lines end
// in LF), one a row, under a row of column names. Times are in seconds from the
// start of the recording; phrase is the number of the phrase, from 1, or empty;
// pitches are fractional MIDI numbers; several values of one cell are separated
// by spaces, alternatives by semicolons; loudness is in dB against the usual
// event; place is bar and beat, chord what the band plays there, if they are
// known; doubts are separated by semicolons; checked is 1 where an event or its phrase was
// found right by ear. The header of the document, its warnings and its remarks are left out.
func WriteCSV(w io.Writer, d Document) error {
	if err := d.check(); err != nil {
		return fmt.Errorf("writing CSV: %w", err)
	}
	c := csv.NewWriter(w)
	rows := [][]string{csvColumns}
	for _, e := range d.Events {
		rows = append(rows, d.csvRow(e))
	}
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("writing CSV: %w", err)
	}
	return nil
}

func (d Document) csvRow(e Event) []string {
	phrase := ""
	if i := phraseOf(d.Phrases, e); i >= 0 {
		phrase = strconv.Itoa(i + 1)
	}
	j := d.jsonEvent(e)
	breath := ""
	if j.Breath != nil {
		breath = *j.Breath
	}
	pitches := make([]string, len(j.Pitches))
	for i, p := range j.Pitches {
		pitches[i] = string(p)
	}
	var alternatives []string
	for _, a := range j.Alternatives {
		token := a.Tab
		if token == "" {
			token = "rest"
		}
		if a.For != "" {
			token += " for " + a.For
		}
		alternatives = append(alternatives, token+" "+string(a.Confidence))
	}
	checked := ""
	if d.IsChecked(e) {
		checked = "1"
	}
	return []string{
		string(j.Start), string(j.End), e.lengthText(), phrase, j.Tab, breath,
		numbers(j.Holes), numbers(j.Bends), strings.Join(j.Notes, " "), strings.Join(j.Degrees, " "),
		j.Interval, strings.Join(pitches, " "), j.Texture, string(j.Confidence),
		strings.Join(alternatives, "; "), e.Comment, e.MarkText(), string(j.LoudnessDB),
		j.Place, j.Chord, strings.Join(j.ChordDegrees, " "),
		strings.ReplaceAll(e.DoubtWordsOf(), ", ", "; "), checked,
	}
}
