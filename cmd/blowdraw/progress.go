package main

import (
	"fmt"
	"io"
	"os"
	"strings"
)

// progress draws a bar on a terminal and nothing elsewhere.
type progress struct {
	w     io.Writer
	total float64 // seconds, 0 if unknown
	shown bool
}

func newProgress(w io.Writer, total float64) *progress {
	f, ok := w.(*os.File)
	if !ok {
		return &progress{}
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return &progress{}
	}
	return &progress{w: w, total: total}
}

// at shows that so many seconds of the section have been heard.
func (p *progress) at(seconds float64) {
	if p.w == nil {
		return
	}
	p.shown = true
	if p.total <= 0 {
		fmt.Fprintf(p.w, "\r%s heard", clock(seconds))
		return
	}
	const width = 30
	done := min(width, int(width*seconds/p.total))
	fmt.Fprintf(p.w, "\r[%s%s] %s of %s", strings.Repeat("=", done), strings.Repeat(" ", width-done), clock(seconds), clock(p.total))
}

// done clears the line.
func (p *progress) done() {
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
