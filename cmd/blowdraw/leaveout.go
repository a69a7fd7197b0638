package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

// phraseSet are phrases by number from 1.
type phraseSet map[int]bool

// parsePhrases reads even, odd, or numbers and ranges such as 2,4-6, of n phrases.
func parsePhrases(s string, n int) (phraseSet, error) {
	out := phraseSet{}
	for _, part := range strings.Split(s, ",") {
		part = strings.TrimSpace(part)
		first, last, isRange := strings.Cut(part, "-")
		a, errA := strconv.Atoi(first)
		b, errB := a, error(nil)
		if isRange {
			b, errB = strconv.Atoi(last)
		}
		switch {
		case part == "even" || part == "odd":
			for k := 1; k <= n; k++ {
				out[k] = out[k] || (k%2 == 0) == (part == "even")
			}
			continue
		case errA != nil || errB != nil || a > b:
			return nil, fmt.Errorf("%q: want even, odd or numbers of phrases such as 2,4-6", part)
		case a < 1 || b > n:
			return nil, fmt.Errorf("%q: the tab has %s", part, count(n, "phrase"))
		}
		for k := a; k <= b; k++ {
			out[k] = true
		}
	}
	return out, nil
}

// without is a tab without the events of phrases, and from when to when each of those is.
// What is left out reaches halfway to its neighbours at most.
func (s phraseSet) without(d tab.Document) (tab.Document, [][2]float64) {
	left := d
	left.Events = nil
	var spans [][2]float64
	phrases := phrasing.Groups(d)
	for n, events := range phrases {
		from, to := spanOf(d, events)
		if !s[n+1] {
			for _, i := range events {
				left.Events = append(left.Events, d.Events[i])
			}
			continue
		}
		from, to = from-leftBefore, to+leftAfter
		if n > 0 {
			_, before := spanOf(d, phrases[n-1])
			from = max(from, (before+from+leftBefore)/2)
		}
		if n+1 < len(phrases) {
			after, _ := spanOf(d, phrases[n+1])
			to = min(to, (after+to-leftAfter)/2)
		}
		spans = append(spans, [2]float64{from, to})
	}
	return left, spans
}

// Room around a phrase that is left out of a recording, and how softly it goes, in seconds.
const leftBefore, leftAfter, leftFade = 0.1, 0.3, 0.03

// otherSide is the side of a stereo recording on which the harp of a tab is not; ok is
// false if it is on both.
func otherSide(channel string) (other decode.Channel, ok bool) {
	side, _, _ := strings.Cut(channel, "-")
	switch side {
	case "left":
		return decode.Right, true
	case "right":
		return decode.Left, true
	}
	return decode.Mix, false
}

// replaced is x with another channel in the place of spans (seconds after x begins), or
// with silence if there is none.
func replaced(x, other []float64, rate int, spans [][2]float64) []float64 {
	out := append([]float64(nil), x...)
	for i := range out {
		t := float64(i) / float64(rate)
		share := 0.0 // of the other
		for _, s := range spans {
			inside := min((t-s[0])/leftFade, (s[1]-t)/leftFade)
			share = max(share, math.Min(math.Max(inside, 0), 1))
		}
		if share == 0 {
			continue
		}
		out[i] *= 1 - share
		if i < len(other) {
			out[i] += share * other[i]
		}
	}
	return out
}
