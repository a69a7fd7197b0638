// Package lesson writes the page that holds the files of a lesson together: the sheet,
// the listening page, and for each phrase its sound as recorded, slower, and played from
// the tab. It opens from its file with a double click and loads nothing but what lies in
// the same folder.
package lesson

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"blowdraw/tabber/formats"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

// File is a file of the lesson, and what a reader finds in it.
type File struct{ Name, About string }

// Sound is how a phrase can be heard: File is relative to the page.
type Sound struct{ File, About string }

// Lesson is what the page tells.
type Lesson struct {
	Tab    tab.Document
	Files  []File
	Sounds [][]Sound // by phrase, as phrasing.Groups has them
}

// phrase is a row of the page.
type phrase struct {
	Number int
	Place  string // bars, or when it begins
	Notes  []string
	Sounds []Sound
}

//go:embed lesson.html
var pageText string

//go:embed lesson.css
var style string

var pageTemplate = template.Must(template.New("lesson").Parse(pageText))

// Write writes the page.
func Write(w io.Writer, l Lesson) error {
	sum := sha256.Sum256([]byte(style))
	content := struct {
		Title, Harp, Policy string
		Style               template.CSS
		Files               []File
		Phrases             []phrase
	}{
		tab.OneLine(formats.Title(l.Tab)), formats.HarpLine(l.Tab),
		"default-src 'none'; base-uri 'none'; form-action 'none'; media-src 'self' file:; style-src 'sha256-" +
			base64.StdEncoding.EncodeToString(sum[:]) + "'",
		template.CSS(style), l.Files, phrasesOf(l),
	}
	if err := pageTemplate.Execute(w, content); err != nil {
		return fmt.Errorf("writing the page of the lesson: %w", err)
	}
	return nil
}

func phrasesOf(l Lesson) []phrase {
	var out []phrase
	for n, events := range phrasing.Groups(l.Tab) {
		first, last := l.Tab.Events[events[0]], l.Tab.Events[events[len(events)-1]]
		p := phrase{Number: n + 1, Place: tab.ShortClock(first.Start)}
		if a, ok := l.Tab.PlaceAt(first.Start); ok {
			b, _ := l.Tab.PlaceAt(last.Start)
			if b.Bar > a.Bar {
				p.Place += fmt.Sprintf(", bars %d to %d", a.Bar, b.Bar)
			} else {
				p.Place += fmt.Sprintf(", bar %d", a.Bar)
			}
		}
		for _, i := range events {
			p.Notes = append(p.Notes, strings.Trim(l.Tab.EventToken(l.Tab.Events[i]), "{}"))
		}
		if n < len(l.Sounds) {
			p.Sounds = l.Sounds[n]
		}
		out = append(out, p)
	}
	return out
}
