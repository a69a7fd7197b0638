// Package page writes the listening page: one HTML file in which a player sees and
// hears a section of a recording against its tab, and corrects the tab.
//
// The page holds all that it needs and loads nothing, unless the recording is linked;
// its content security policy says so. What it knows of the harp, of the beat and of
// how a document is written is worked out here and handed to it as data; the scripts
// beside this file draw, play and keep the player's changes. A tab that they save must
// be byte for byte what tab.WriteText writes; the tests run them in Chromium and Firefox.
package page

import (
	"cmp"
	"embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"blowdraw/tabber/formats"
	"blowdraw/tabber/tab"
)

// Page is what a page shows.
type Page struct {
	Tab     tab.Document
	From    float64     // where Samples begin, seconds from the start of the recording
	Rate    int         // of Samples, Hz
	Samples []float64   // the section, mono
	Pitches [][]float64 // heard every pitch.HopSeconds from From on: fractional MIDI numbers
	Link    string      // address of the recording from the page; empty: the sound goes into the page
}

// MostBytes is how much sound a page may hold.
const MostBytes = 32 << 20

// TooLongError is a section whose sound would make too large a page.
type TooLongError struct{ Bytes int }

func (e *TooLongError) Error() string {
	return fmt.Sprintf("its sound takes %d MB; a page holds at most %d", (e.Bytes+1<<20-1)>>20, MostBytes>>20)
}

//go:embed page.html page.css *.js
var files embed.FS

// scripts of the page, in the order in which they run as one.
var scripts = []string{"tab.js", "grid.js", "player.js", "picture.js", "sheet.js", "beats.js", "main.js"}

var pageTemplate = template.Must(template.ParseFS(files, "page.html"))

// content fills the template.
type content struct {
	Title, Harp string
	Policy      string
	Style       template.CSS
	Script      template.JS
	Data        data
	Sound       template.JS // base64 in quotes
}

// Write writes the page.
func Write(w io.Writer, p Page) error {
	c, err := contentOf(p)
	if err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	if err := pageTemplate.Execute(w, c.with(read("page.css"), program())); err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	return nil
}

// program is all scripts as one.
func program() string {
	var script strings.Builder
	script.WriteString("\"use strict\";\n{\n")
	for _, name := range scripts {
		script.WriteString(read(name))
	}
	script.WriteString("}\n")
	return script.String()
}

// contentOf is what a page has of its own.
func contentOf(p Page) (c content, err error) {
	c = content{Title: tab.OneLine(formats.Title(p.Tab)), Harp: formats.HarpLine(p.Tab)}
	if c.Data, err = dataOf(p); err == nil && p.Link == "" {
		c.Sound, err = Sound(p.Rate, p.Samples)
	}
	return c, err
}

// with what all pages have: their style and script, and the policy that lets these run.
func (c content) with(style, script string) content {
	media := "blob:"
	if c.Data.Link != "" {
		media = "'self' file:"
	}
	c.Style, c.Script, c.Policy = template.CSS(style), template.JS(script), Policy(media, style, script)
	return c
}

// read one of the files that are part of the program.
func read(name string) string {
	b, err := files.ReadFile(name)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// fileName is what the corrected tab is saved as.
func fileName(d tab.Document) string {
	return cmp.Or(strings.Trim(strings.Map(func(r rune) rune {
		if strings.ContainsRune(`/\:*?"<>|`, r) {
			return '-'
		}
		return r
	}, tab.OneLine(formats.Title(d))), " ."), "harp") + ".tab"
}
