package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
	"unicode/utf8"

	"blowdraw/decode"

	"golang.org/x/term"
)

// progress shows a line on a terminal that can clear one, and nothing elsewhere: what is
// being done, and how far it is.
type progress struct {
	w     io.Writer // nil: nowhere
	width int       // of the terminal in characters
	doing string
	total float64 // seconds, 0 if unknown
	begun time.Time
	shown bool
}

// newProgress shows at once what is being done, over so many seconds of sound.
func newProgress(w io.Writer, doing string, total float64) *progress {
	f, ok := unwrapped(w).(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) || os.Getenv("TERM") == "dumb" {
		return &progress{}
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width <= 0 {
		width = 80
	}
	p := &progress{w: f, width: width, doing: doing, total: total, begun: time.Now()}
	p.show("")
	return p
}

// at shows that so many seconds of the section are done.
func (p *progress) at(seconds float64) {
	if p.total <= 0 {
		p.show(decode.Clock(seconds) + " done")
		return
	}
	p.show(progressText(seconds, p.total, time.Since(p.begun)))
}

// share shows that such a share of the work is done.
func (p *progress) share(done float64) {
	p.show(fmt.Sprintf("%s %.0f%%", barText(done), 100*done))
}

// barText is a bar of which a share is full.
func barText(share float64) string {
	const width = 30
	n := max(0, min(width, int(width*share)))
	return "[" + strings.Repeat("=", n) + strings.Repeat(" ", width-n) + "]"
}

// progressText is a bar with the time that is left, if what has passed tells it.
func progressText(done, total float64, passed time.Duration) string {
	s := fmt.Sprintf("%s %s of %s", barText(done/total), decode.Clock(done), decode.Clock(total))
	if left := passed.Seconds() * (total - done) / done; left >= 1 {
		s += fmt.Sprintf(", %d:%02d left", int(left)/60, int(left)%60)
	}
	return s
}

// show replaces what the line says after what is being done. What is wider than the
// terminal is cut off: only one line can be replaced.
func (p *progress) show(text string) {
	if p.w == nil {
		return
	}
	line := strings.TrimSpace(p.doing + " " + text)
	for utf8.RuneCountInString(line) >= p.width {
		_, size := utf8.DecodeLastRuneInString(line)
		line = line[:len(line)-size]
	}
	fmt.Fprintf(p.w, "\r%s\x1b[K", line)
	p.shown = true
}

// done clears the line.
func (p *progress) done() {
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.shown = false
	}
}
