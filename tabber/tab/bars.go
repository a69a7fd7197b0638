package tab

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"blowdraw/tabber/harp"
)

// Bar is a bar of the music: where it begins, in seconds from the start of the
// recording, and what the band plays in it.
type Bar struct {
	Number int
	Start  float64
	Chord  string // degrees such as "I", "IV" or "I V", which share the bar; may be empty

	Confidence float64 // probability that it begins there; 0 where none is told
}

// Doubt is the mark behind a bar line that may lie elsewhere, empty for others: "? 63%".
func (b Bar) Doubt() string {
	if b.Confidence <= 0 || percent(b.Confidence) >= percent(SureFrom) {
		return ""
	}
	return fmt.Sprintf("? %d%%", max(1, percent(b.Confidence)))
}

// Meters are those that a document may have, with the beats in a bar. A bar of
// 12/8 has four beats of three eighths.
var Meters = map[string]int{"4/4": 4, "12/8": 4, "3/4": 3}

// Place is a place in the music: a bar, a beat of it from 1, and twelfths of a beat
// after that.
type Place struct{ Bar, Beat, Twelfths int }

// String writes 5|3 for the third beat of bar 5, and 5|3+2/3 two thirds of a
// beat later.
func (p Place) String() string {
	s := fmt.Sprintf("%d|%d", p.Bar, p.Beat)
	if p.Twelfths == 0 {
		return s
	}
	n, d := p.Twelfths, 12
	for _, f := range []int{2, 2, 3} {
		if n%f == 0 && d%f == 0 {
			n, d = n/f, d/f
		}
	}
	return fmt.Sprintf("%s+%d/%d", s, n, d)
}

// parsePlace undoes String.
func parsePlace(s string) (Place, error) {
	var p Place
	bar, rest, _ := strings.Cut(strings.TrimSuffix(s, Shared), "|")
	beat, part, found := strings.Cut(rest, "+")
	var err, err2 error
	p.Bar, err = strconv.Atoi(bar)
	p.Beat, err2 = strconv.Atoi(beat)
	n, d := 0, 1
	if found {
		k, err3 := fmt.Sscanf(part, "%d/%d", &n, &d)
		if k != 2 || err3 != nil || d < 1 || 12%d != 0 || n < 0 || n >= d {
			err = fmt.Errorf("part of a beat")
		}
	}
	if err != nil || err2 != nil || p.Beat < 1 || p.Beat > 99 {
		return p, fmt.Errorf("%q is not a place in a bar; want bar and beat such as 5|3, or 5|3+2/3", s)
	}
	p.Twelfths = n * 12 / d
	return p, nil
}

// BeatsInBar is 4 unless the meter says otherwise.
func (d Document) BeatsInBar() int {
	if n := Meters[d.Meter]; n > 0 {
		return n
	}
	return 4
}

// barStart is where bar line i stands, as the reader sees it.
func (d Document) barStart(i int) float64 { return Rounded(d.Bars[i].Start) }

// beatSeconds is the length of a beat in bar i; the last bar is as long as the
// one before. 0 if it is not known.
func (d Document) beatSeconds(i int) float64 {
	n := len(d.Bars)
	if i+1 >= n && n > 1 {
		i = n - 2
	}
	if i+1 < n {
		return (d.barStart(i+1) - d.barStart(i)) / float64(d.BeatsInBar())
	}
	if bpm := round1(d.BPM); bpm > 0 {
		return 60 / bpm
	}
	return 0
}

// barAt is the index of the bar that sounds at a time, -1 before the first.
func (d Document) barAt(t float64) int {
	return sort.Search(len(d.Bars), func(i int) bool { return Millis(d.Bars[i].Start) > Millis(t) }) - 1
}

// BeatAt is how many beats a time in seconds lies after the first bar line, or
// without bar lines after the start of the recording. ok is false if the document
// has neither bar lines nor a tempo.
func (d Document) BeatAt(t float64) (beats float64, ok bool) {
	if len(d.Bars) == 0 {
		return t * round1(d.BPM) / 60, round1(d.BPM) > 0
	}
	i := max(0, d.barAt(t))
	length := d.beatSeconds(i)
	if length <= 0 {
		return 0, false
	}
	return float64(i*d.BeatsInBar()) + (t-d.barStart(i))/length, true
}

// PlaceAt is the place of a time in seconds, at the nearest third or, but for 12/8,
// quarter or half of a beat; times are compared in milliseconds, as the reader sees
// them. ok is false without bar lines.
func (d Document) PlaceAt(t float64) (p Place, ok bool) {
	beats, ok := d.BeatAt(Rounded(t))
	if !ok || len(d.Bars) == 0 {
		return p, false
	}
	whole := int(math.Floor(beats))
	part := nearestPart(beats-float64(whole), Parts(d.Meter))
	if part == 12 {
		whole, part = whole+1, 0
	}
	p = d.BeatPlace(whole)
	p.Twelfths = part
	return p, true
}

// BeatPlace is the place of a beat, counted from the first bar line, of which there must
// be one.
func (d Document) BeatPlace(beat int) Place {
	n := d.BeatsInBar()
	bar := int(math.Floor(float64(beat) / float64(n)))
	return Place{Bar: d.Bars[0].Number + bar, Beat: beat - n*bar + 1}
}

// PlaceText is the place of a time in seconds as it is written; empty without bar lines.
func (d Document) PlaceText(t float64) string {
	if p, ok := d.PlaceAt(t); ok {
		return p.String()
	}
	return ""
}

// Parts of a beat at which events are said to begin, in twelfths: thirds and, but for
// 12/8, quarters and halves.
func Parts(meter string) []int {
	if meter == "12/8" {
		return []int{0, 4, 8}
	}
	return []int{0, 3, 4, 6, 8, 9}
}

// nearestPart of a beat, in twelfths; 12 is the next beat.
func nearestPart(x float64, parts []int) int {
	best := 0
	for _, p := range append(parts, 12) {
		if math.Abs(float64(p)/12-x) < math.Abs(float64(best)/12-x) {
			best = p
		}
	}
	return best
}

// TimeAt is the time of a place, in seconds. ok is false without bar lines and
// before the recording.
func (d Document) TimeAt(p Place) (t float64, ok bool) {
	if len(d.Bars) == 0 {
		return 0, false
	}
	i := min(max(0, p.Bar-d.Bars[0].Number), len(d.Bars)-1)
	beats := float64((p.Bar-d.Bars[0].Number-i)*d.BeatsInBar()+p.Beat-1) + float64(p.Twelfths)/12
	t = d.barStart(i) + beats*d.beatSeconds(i)
	return t, d.beatSeconds(i) > 0 && t >= 0
}

// EventPlace is the place where an event starts as it is written: with [Shared] behind it if the
// event before, which starts earlier, has the same.
func (d Document) EventPlace(e Event) string {
	p, ok := d.PlaceAt(e.Start)
	if !ok {
		return ""
	}
	first := sort.Search(len(d.Events), func(i int) bool { return Millis(d.Events[i].Start) >= Millis(e.Start) })
	shares := false
	if first < len(d.Events) { // of those that start together all but the first share their place
		o := d.Events[first]
		shares = Millis(o.Start) == Millis(e.Start) && (o.End != e.End || Token(o.Actions) != Token(e.Actions))
	}
	if first > 0 {
		before, _ := d.PlaceAt(d.Events[first-1].Start)
		shares = shares || before == p
	}
	if shares {
		return p.String() + Shared
	}
	return p.String()
}

// Shared stands behind the place of an event that begins a little after another at the same place.
const Shared = "~"

// onGrid is the time of the place where an event that starts at t is written, if
// it starts a little early, so that it counts to the bar and the chord it means.
func (d Document) onGrid(t float64) float64 {
	if p, ok := d.PlaceAt(t); ok {
		if at, ok := d.TimeAt(p); ok {
			return max(t, at)
		}
	}
	return t
}

// ChordAt is what the band plays at a time, empty if it is not known.
func (d Document) ChordAt(t float64) string {
	i := d.barAt(t)
	if i < 0 || d.Bars[i].Chord == "" {
		return ""
	}
	words := strings.Fields(d.Bars[i].Chord)
	length := d.beatSeconds(i) * float64(d.BeatsInBar())
	if length <= 0 {
		return words[0]
	}
	k := int(float64(len(words)) * (Rounded(t) - d.barStart(i)) / length)
	return words[min(max(k, 0), len(words)-1)]
}

// chordRoots are the semitones over the tonic of the degrees that a bar may name.
var chordRoots = map[string]int{
	"I": 0, "bII": 1, "II": 2, "bIII": 3, "III": 4, "IV": 5,
	"bV": 6, "V": 7, "bVI": 8, "VI": 9, "bVII": 10, "VII": 11,
}

// ChordRoot is how many semitones the root of a chord such as IV, iv or IV7 lies
// over the tonic.
func ChordRoot(chord string) (semitones int, ok bool) {
	end := strings.TrimLeft(chord, "bIViv")
	name := strings.TrimSuffix(chord, end)
	flat := strings.HasPrefix(name, "b")
	name = strings.ToUpper(strings.TrimPrefix(name, "b"))
	if flat {
		name = "b" + name
	}
	semitones, ok = chordRoots[name]
	return semitones, ok && strings.Trim(end, "0123456789") == ""
}

// ChordUnder is the chord that an event starts over, empty if it is not known.
func (d Document) ChordUnder(e Event) string { return d.ChordAt(d.onGrid(e.Start)) }

// ChordDegrees are the degrees of an event's notes over the chord under its start,
// lowest first; none where the chord is not known.
func (d Document) ChordDegrees(e Event) []string {
	root, ok := ChordRoot(d.ChordUnder(e))
	if !ok {
		return nil
	}
	var out []string
	for _, m := range d.Sounding(e) {
		out = append(out, harp.Degree(m, (d.SongKey+root)%12))
	}
	return out
}

// checkBars reports bar lines that no document could have.
func (d Document) checkBars() error {
	if _, ok := Meters[d.Meter]; d.Meter != "" && !ok {
		return fmt.Errorf("meter %q is not known: want 4/4, 12/8 or 3/4", d.Meter)
	}
	for i, b := range d.Bars {
		inOrder := i == 0 ||
			Millis(b.Start) > Millis(d.Bars[i-1].Start) && b.Number == d.Bars[i-1].Number+1
		if !(b.Start >= 0 && b.Start < math.Inf(1)) || !inOrder {
			return fmt.Errorf("bar line %d, of bar %d, is at %g s, out of order", i+1, b.Number, b.Start)
		}
		if err := checkChord(b.Chord); err != nil {
			return fmt.Errorf("bar %d: %w", b.Number, err)
		}
	}
	return nil
}

func checkChord(chord string) error {
	for _, c := range strings.Fields(chord) {
		if _, ok := ChordRoot(c); !ok {
			return fmt.Errorf("%q is not a chord; want degrees such as I, IV or V7", c)
		}
	}
	return nil
}
