package tab

import (
	"fmt"
	"slices"
	"sort"
)

// An added line lasts defaultMillis if it stands alone in its phrase; if there
// is less than leastMillis for each added line, they share the time of the event
// above them.
const (
	defaultMillis = 500
	leastMillis   = 50
)

// assemble makes the document of the lines that were read: it drops what is out
// of order, fills in the times that were left out, and puts the remarks in place.
func (p *parser) assemble() {
	p.numberBars()
	p.dropUnordered()
	p.dropPhrases()
	next := p.nextStarts()
	p.fillLengths(next)
	p.fillTimes(next)
	p.endPhrases()
	for _, e := range p.events {
		p.doc.Events = append(p.doc.Events, e.Event)
	}
	sort.SliceStable(p.remarks, func(i, j int) bool { return p.remarks[i].line < p.remarks[j].line })
	for _, r := range p.remarks {
		before := -1
		if !r.header {
			before = sort.Search(len(p.events), func(i int) bool { return p.events[i].Line > r.line })
		}
		remark := Remark{Before: before, Text: r.text}
		if before >= 0 {
			remark.Heading = p.headingBetween(r.line, before)
		}
		p.doc.Remarks = append(p.doc.Remarks, remark)
	}
}

// headingBetween reports whether the heading of a phrase stands between a line and the event
// below it, or the end.
func (p *parser) headingBetween(line, event int) bool {
	below := len(p.lines) + 1
	if event < len(p.events) {
		below = p.events[event].Line
	}
	return slices.ContainsFunc(
		p.phrases,
		func(ph parsedPhrase) bool { return ph.line > line && ph.line < below },
	)
}

// numberBars numbers the bars from the first one on, drops those that are out of
// order, and gives times to the events that say only their place in a bar.
func (p *parser) numberBars() {
	for _, b := range p.bars {
		n := len(p.doc.Bars)
		if n > 0 && Millis(b.Start) <= Millis(p.doc.Bars[n-1].Start) {
			p.failLine(b.line, "this bar does not start after the one above it")
			p.keep(b.line, false)
			continue
		}
		if n > 0 {
			b.Number = p.doc.Bars[n-1].Number + 1
		}
		p.doc.Bars = append(p.doc.Bars, b.Bar)
	}
	for i := range p.events {
		e := &p.events[i]
		if t, ok := p.doc.TimeAt(e.at); ok && e.placed && !e.timed {
			e.Start, e.timed = Rounded(t), true
		}
	}
}

// dropUnordered reports the fewest events that put the times out of order, and
// drops them and those that were not understood.
func (p *parser) dropUnordered() {
	var timed []int
	var starts []float64
	for i, e := range p.events {
		if e.timed {
			timed, starts = append(timed, i), append(starts, e.Start)
		}
	}
	keep := longestOrdered(starts)
	below := make([]float64, len(timed)+1) // start of the next event that is kept
	for k := len(timed) - 1; k >= 0; k-- {
		below[k] = below[k+1]
		if keep[k] {
			below[k] = starts[k]
		}
	}
	above := -1.0
	for k, i := range timed {
		e := &p.events[i]
		switch {
		case keep[k]:
			above = e.Start
			continue
		case e.Start < above:
			p.failLine(e.Line, "starts before the event above it, at %s", Clock(above))
		default:
			p.failLine(e.Line, "starts after the event below it, at %s", Clock(below[k]))
		}
		if !e.bad {
			p.keep(e.Line, false)
		}
		e.bad = true
	}
	p.events = slices.DeleteFunc(p.events, func(e parsedEvent) bool { return e.bad })
}

// failLine records a mistake at the front of a line.
func (p *parser) failLine(line int, format string, args ...any) {
	e := Error{Line: line, Column: p.firstColumn(line), Text: fmt.Sprintf(format, args...)}
	p.errs = append(p.errs, e)
}

// firstColumn of a line that is not blank.
func (p *parser) firstColumn(line int) int {
	n := 1
	for _, r := range p.lines[line-1] {
		if r != ' ' && r != '\t' {
			break
		}
		n++
	}
	return n
}

// longestOrdered marks a longest subsequence that never falls, of several the
// one that begins with the earlier values (patience sorting: Aldous & Diaconis
// 1999, "Longest increasing subsequences").
func longestOrdered(x []float64) []bool {
	longest := make([]int, len(x)) // of the subsequences that begin here
	var tails []float64            // least value, its sign turned, that a run of that length ends in
	most := 0
	for i := len(x) - 1; i >= 0; i-- {
		n := sort.Search(len(tails), func(j int) bool { return tails[j] > -x[i] })
		if n == len(tails) {
			tails = append(tails, 0)
		}
		tails[n] = -x[i]
		longest[i] = n + 1
		most = max(most, n+1)
	}
	keep := make([]bool, len(x))
	above := 0.0
	for i, v := range x {
		if most > 0 && longest[i] == most && v >= above {
			keep[i], above, most = true, v, most-1
		}
	}
	return keep
}

// dropPhrases drops headings that start before the one above them; their events
// go to the phrase above.
func (p *parser) dropPhrases() {
	newIndex := make([]int, len(p.phrases))
	var kept []parsedPhrase
	above := 0.0
	for i, ph := range p.phrases {
		if ph.timed && ph.Start < above {
			p.failLine(ph.line, "this phrase starts before the one above it")
			p.keep(ph.line, false)
		} else {
			kept = append(kept, ph)
		}
		if ph.timed {
			above = max(above, ph.Start)
		}
		newIndex[i] = len(kept) - 1
	}
	for j := range p.events {
		if i := p.events[j].phrase; i >= 0 {
			p.events[j].phrase = newIndex[i]
		}
	}
	p.phrases = kept
}

// fillLengths gives events that say when they start, but not how long they last,
// the length of the event above, up to the next start.
func (p *parser) fillLengths(next []int) {
	length := defaultMillis
	for i := range p.events {
		e := &p.events[i]
		if e.timed && !e.long {
			end := Millis(e.Start) + length
			if next[i+1] >= Millis(e.Start) {
				end = min(end, next[i+1])
			}
			e.End = float64(end) / 1000
		}
		if e.timed && e.End > e.Start {
			length = Millis(e.End) - Millis(e.Start)
		}
	}
}

// nextStarts are for each event, and for the end, the start in milliseconds of
// the first timed event from it on, -1 if there is none.
func (p *parser) nextStarts() []int {
	next := make([]int, len(p.events)+1)
	next[len(p.events)] = -1
	for i := len(p.events) - 1; i >= 0; i-- {
		next[i] = next[i+1]
		if p.events[i].timed {
			next[i] = Millis(p.events[i].Start)
		}
	}
	return next
}

// fillTimes gives times to the events of added lines, run by run of one phrase.
func (p *parser) fillTimes(next []int) {
	for i := 0; i < len(p.events); {
		if p.events[i].timed {
			i++
			continue
		}
		end := i + 1
		for end < len(p.events) && !p.events[end].timed && p.events[end].phrase == p.events[i].phrase {
			end++
		}
		p.fillRun(i, end, next[end])
		i = end
	}
}

// fillRun gives times to the added events [i, end) of one phrase: they follow
// the event above, each as long as that; the first of a phrase come right before
// the event below. The next start is in milliseconds, -1 if there is none.
func (p *parser) fillRun(i, end, next int) {
	n, phrase := end-i, p.events[i].phrase
	lo := Millis(p.doc.From) // where there is room
	underEvent := i > 0 && p.events[i-1].phrase == phrase
	if i > 0 {
		lo = Millis(p.events[i-1].End)
	}
	if !underEvent && phrase >= 0 && p.phrases[phrase].timed {
		lo = max(lo, Millis(p.phrases[phrase].Start))
	}
	hi := next
	for _, ph := range p.phrases[phrase+1:] { // in order of time
		if ph.timed {
			if start := Millis(ph.Start); hi < 0 || start < hi {
				hi = start
			}
			break
		}
	}
	overEvent := end < len(p.events) && p.events[end].timed && p.events[end].phrase == phrase
	length := defaultMillis
	switch {
	case underEvent:
		length = Millis(p.events[i-1].End) - Millis(p.events[i-1].Start)
	case overEvent:
		length = Millis(p.events[end].End) - Millis(p.events[end].Start)
	}
	if length == 0 {
		length = defaultMillis
	}
	if hi >= 0 && hi-lo < n*leastMillis && i > 0 { // share the time of the event above
		above := &p.events[i-1]
		start := Millis(above.Start)
		hi = max(hi, start)
		lo = start + (hi-start)/(n+1)
		above.End = float64(lo) / 1000
	}
	if hi >= 0 {
		lo = min(lo, hi)
		length = min(length, (hi-lo)/n)
		if !underEvent && overEvent {
			lo = hi - n*length
		}
	}
	for k := i; k < end; k++ {
		p.events[k].Start, p.events[k].End = float64(lo)/1000, float64(lo+length)/1000
		lo += length
	}
}

// endPhrases works out the times of phrases that give none, lets a phrase begin
// no later than its first event, and reports events that stand under the wrong
// heading.
func (p *parser) endPhrases() {
	var kept []parsedPhrase
	for i := range p.phrases {
		ph := &p.phrases[i]
		first := true
		for _, e := range p.eventsOf(i) {
			if first && (!ph.timed || e.Start < ph.Start) {
				ph.Start = e.Start
			}
			if !ph.timed {
				ph.End = max(ph.End, e.End)
			}
			first = false
		}
		if first && !ph.timed {
			p.failLine(ph.line, "a phrase without events needs times, such as Phrase 1  0:02.413 to 0:05.902")
			p.keep(ph.line, false)
			continue
		}
		if n := len(kept); n > 0 && ph.Start < kept[n-1].Start {
			p.failLine(ph.line, "this phrase starts before the one above it")
			p.keep(ph.line, false)
			continue
		}
		kept = append(kept, *ph)
		p.doc.Phrases = append(p.doc.Phrases, Phrase{ph.Start, max(ph.Start, ph.End), ph.Checked})
	}
	p.phrases = kept
	for _, e := range p.events {
		i := phraseOf(p.doc.Phrases, e.Event)
		if i >= 0 && kept[i].line > e.Line {
			const text = "this event starts when phrase %d has begun, but stands above its heading"
			p.failLine(e.Line, text, i+1)
		}
	}
}

// eventsOf phrase i; the phrases of successive events never fall.
func (p *parser) eventsOf(i int) []parsedEvent {
	lo := sort.Search(len(p.events), func(j int) bool { return p.events[j].phrase >= i })
	hi := sort.Search(len(p.events), func(j int) bool { return p.events[j].phrase > i })
	return p.events[lo:hi]
}
