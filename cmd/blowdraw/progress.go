package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"blowdraw/decode"
)

// progress shows a line on a terminal that can clear one, and nothing elsewhere.
type progress struct {
	w     io.Writer
	total float64 // seconds, 0 if unknown
	begun time.Time
	shown bool
}

func newProgress(w io.Writer, total float64) *progress {
	f, ok := w.(*os.File)
	if !ok {
		return &progress{}
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 || os.Getenv("TERM") == "dumb" {
		return &progress{}
	}
	return &progress{w: w, total: total, begun: time.Now()}
}

// at shows that so many seconds of the section are done.
func (p *progress) at(seconds float64) {
	if p.total <= 0 {
		p.show(decode.Clock(seconds) + " done")
		return
	}
	p.show(progressText(seconds, p.total, time.Since(p.begun)))
}

// progressText is a bar with the time that is left, if what has passed tells it.
func progressText(done, total float64, passed time.Duration) string {
	const width = 30
	n := max(0, min(width, int(width*done/total)))
	s := fmt.Sprintf("[%s%s] %s of %s",
		strings.Repeat("=", n), strings.Repeat(" ", width-n), decode.Clock(done), decode.Clock(total))
	if left := passed.Seconds() * (total - done) / done; left >= 1 {
		s += fmt.Sprintf(", %d:%02d left", int(left)/60, int(left)%60)
	}
	return s
}

// show replaces the line.
func (p *progress) show(text string) {
	if p.w != nil {
		fmt.Fprintf(p.w, "\r%s\x1b[K", text)
		p.shown = true
	}
}

// done clears the line.
func (p *progress) done() {
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.shown = false
	}
}
