// Package wording says in English what a study found: the same words in a terminal and on a
// page.
package wording

import (
	"fmt"
	"math"
	"strings"

	"blowdraw/tabber/study"
	"blowdraw/tabber/tab"
)

// Place is where something is heard: bar and beat, and time; of several solos the number
// of the solo as well.
func Place(p study.Place, solos int) string {
	at := clock(p.From)
	if p.At != "" {
		at = p.At + " " + at
	}
	if solos > 1 {
		return fmt.Sprintf("%d: %s", p.Solo+1, at)
	}
	return at
}

// clock is a time in tenths of a second.
func clock(seconds float64) string {
	tenths := int(math.Round(10 * seconds))
	return fmt.Sprintf("%s.%d", tab.ShortClock(float64(tenths/10)), tenths%10)
}

// Value of a measure with its unit.
func Value(v float64, unit string) string {
	switch unit {
	case study.Share, study.OfOne:
		return Percent(v)
	case study.Count:
		return Number(v)
	case study.Cents, study.Millis:
		return fmt.Sprintf("%.0f %s", v, unit)
	case study.PerHund:
		return fmt.Sprintf("%.1f", v)
	case study.Seconds:
		return fmt.Sprintf("%.2f %s", v, unit)
	}
	return fmt.Sprintf("%.1f %s", v, unit)
}

// Number is written without decimals where it is whole, else with one.
func Number(v float64) string {
	if math.Abs(v-math.Round(v)) < 0.05 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.1f", v)
}

// Percent of a share, empty for none.
func Percent(v float64) string {
	switch {
	case v <= 0:
		return ""
	case v < 0.005:
		return "<1%"
	}
	return fmt.Sprintf("%.0f%%", 100*v)
}

// Chance is how a p is told.
func Chance(p float64) string {
	switch {
	case p < 0.001:
		return "p < 0.001"
	case p < 0.01:
		return fmt.Sprintf("p %.3f", p)
	}
	return fmt.Sprintf("p %.2f", p)
}

// OneIn is in how many of what there is something comes about by chance: "1 study of 40".
func OneIn(chance float64, what string) string {
	if chance < 0.001 {
		return fmt.Sprintf("fewer than 1 %s of 1000", what)
	}
	n := 1 / chance
	if n > 100 {
		n = math.Round(n/100) * 100
	} else if n > 10 {
		n = math.Round(n/10) * 10
	}
	return fmt.Sprintf("1 %s of %.0f", what, n)
}

// Finding is a measure that is beyond chance in a sentence: "More b7 over IV: 40%, by chance
// 21% (p 0.01)".
func Finding(m study.Measure) string {
	way := "More"
	if m.Value < *m.Expected {
		way = "Less"
	}
	over := ""
	switch {
	case strings.HasPrefix(m.Over, "bar "):
		over = " in " + m.Over
	case m.Over != "":
		over = " over " + m.Over
	}
	return fmt.Sprintf("%s %s%s: %s, by chance %s (%s)",
		way, m.Name, over, Some(m.Value, m.Unit), Some(*m.Expected, m.Unit), Chance(*m.P))
}

// Some is a value with its unit, or none.
func Some(v float64, unit string) string {
	if v <= 0 && (unit == study.Share || unit == study.OfOne) {
		return "none"
	}
	return Value(v, unit)
}

// Quartiles are the values between which the middle half lies.
func Quartiles(m study.Measure) string {
	if m.Low == nil || m.N < 2 {
		return ""
	}
	decimals := 1
	switch m.Unit {
	case study.Cents, study.Millis:
		decimals = 0
	case study.Seconds:
		decimals = 2
	}
	return fmt.Sprintf("%.*f to %.*f", decimals, *m.Low, decimals, *m.High)
}

// Summary is what a study stands on, in sentences.
func Summary(s study.Summary) []string {
	var out []string
	what := fmt.Sprintf("%s in %s, %s of sound", count(s.Events, "note"), count(s.Phrases, "phrase"),
		seconds(s.Seconds))
	if s.Solos > 1 {
		what += fmt.Sprintf(", from %d solos", s.Solos)
	}
	bars := math.Floor(s.Bars + 0.01)
	switch {
	case s.Guessed:
		what += fmt.Sprintf("; about %.0f bars, there being no tempo", bars)
	case !s.Barred:
		what += fmt.Sprintf("; about %.0f bars by the tempo, there being no bar lines", bars)
	case s.FormBars > 0:
		what += fmt.Sprintf("; %.0f bars, %.1f times through the %s form", bars, s.Choruses, s.Form)
	default:
		what += fmt.Sprintf("; %.0f bars", bars)
	}
	sure := fmt.Sprintf(
		"%.0f%% of the sounding time is sure, by the probability of each note; shares are of all "+
			"sounding time, what is not known included.",
		100*s.Known,
	)
	out = append(out, what+".", sure)
	if s.Short {
		out = append(out, fmt.Sprintf("Fewer than %d bars tell little of a player: these are counts, none is "+
			"ranked or held against chance, and answers and moves are not looked for.", study.LeastBars))
	} else {
		out = append(out, fmt.Sprintf("Beyond chance means p below %g; see the manual for the tests.", study.Sure))
	}
	if !s.Chords {
		out = append(out, "The chords are not known: --bar-at and --form, or bar lines with chords in the tab, "+
			"tell them.")
	}
	return out
}

func seconds(s float64) string {
	if s < 100 {
		return fmt.Sprintf("%.1f s", s)
	}
	return fmt.Sprintf("%.0f s", s)
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Answer is a phrase and what it takes up, in a sentence without its places.
func Answer(a study.Answer) string {
	var likes []string
	for _, l := range a.Likes {
		likes = append(likes, fmt.Sprintf("%s over %d notes", l.What, l.Notes))
	}
	return fmt.Sprintf("Phrase %d takes up phrase %d: %s (%s)", a.Phrase, a.Of, strings.Join(likes, ", "),
		Chance(a.P))
}

// Cut is a phrase that ends on no note of the chord.
func Cut(c study.Cut) string {
	s := fmt.Sprintf("ends on %s over %s", c.Degree, c.Over)
	if c.InForm > 0 {
		s += fmt.Sprintf(" in bar %d", c.InForm)
	}
	if c.Turnaround {
		s += ", in the turnaround"
	}
	if c.Sure < tab.SureFrom {
		s += fmt.Sprintf(" (%.0f%% sure)", 100*c.Sure)
	}
	return s
}

// Never is what is not touched, in a sentence; empty for nothing.
func Never(list []study.Never) string {
	if len(list) == 0 {
		return ""
	}
	var names []string
	for _, n := range list {
		names = append(names, n.Name)
	}
	return fmt.Sprintf("Never touched: %s (with 95%%, each less than %.1f%% of the notes)",
		strings.Join(names, " "), 100*list[0].AtMost)
}

// Feel is how beats are divided, in a sentence; empty where it is not clear.
func Feel(t study.Time) string {
	switch t.Feel {
	case "":
		return ""
	case "straight":
		return fmt.Sprintf("Eighths are straight (%.1f to 1)", t.Swing)
	case "swing":
		return fmt.Sprintf("Eighths are swung (%.1f to 1)", t.Swing)
	}
	return "Beats are divided in three"
}

// Late is how notes on the beat lie to it, in a sentence; empty where it is not known.
func Late(t study.Time) string {
	if t.Beat == nil {
		return ""
	}
	way, ms := "after", t.Beat.Value
	if ms < 0 {
		way, ms = "before", -ms
	}
	s := fmt.Sprintf("Notes on the beat begin %.0f ms %s it", ms, way)
	if t.BeatHalf != nil {
		s += fmt.Sprintf(", give or take %.0f (95%%; %s)", *t.BeatHalf, Chance(*t.Beat.P))
	}
	return s
}

// MoveLines are the facts of a move, each with what it is called.
func MoveLines(m study.Move) [][2]string {
	lines := [][2]string{{"tab", m.Tab}, {"degrees", m.Degrees}}
	if m.Rhythm != "" {
		lines = append(lines, [2]string{"beats", m.Rhythm})
	}
	if m.Marks != "" {
		lines = append(lines, [2]string{"marks", m.Marks})
	}
	for i, v := range m.Variants[1:] {
		name := ""
		if i == 0 {
			name = "also"
		}
		lines = append(lines, [2]string{name, fmt.Sprintf("%s (%s)", v.Tab, Times(float64(v.Count)))})
	}
	said := fmt.Sprintf("%s, by chance in %s", Times(float64(len(m.Times))), OneIn(m.Chance, "study"))
	if m.Sure < tab.SureFrom {
		said += fmt.Sprintf("; its notes are %.0f%% sure", 100*m.Sure)
	}
	lines = append(lines, [2]string{"played", said})
	if where := Where(m); where != "" {
		lines = append(lines, [2]string{"begins", where})
	}
	return lines
}

// Times says how often something is: once, twice, 3 times.
func Times(n float64) string {
	switch Number(n) {
	case "1":
		return "once"
	case "2":
		return "twice"
	}
	return Number(n) + " times"
}

// Where in the form a move begins; empty where it is not known.
func Where(m study.Move) string {
	var bars, chords []string
	for _, x := range m.InForm {
		if bar, ok := strings.CutPrefix(x.Over, "bar "); ok {
			bars = append(bars, fmt.Sprintf("%s (%.0f)", bar, x.Value))
		} else {
			chords = append(chords, fmt.Sprintf("%s (%.0f)", x.Over, x.Value))
		}
	}
	var out []string
	if len(chords) > 0 {
		out = append(out, "over "+strings.Join(chords, ", "))
	}
	if len(bars) > 0 {
		out = append(out, "in bar "+strings.Join(bars, ", "))
	}
	s := strings.Join(out, "; ")
	if m.Where != nil && m.Where.Beyond() {
		s += fmt.Sprintf("; more in %s than by chance (%s)", m.Where.Over, Chance(*m.Where.P))
	}
	return s
}

// What a tab alone does not tell.
const (
	Unmeasured = "Depths are those of the tab, to the semitone and its marks of cents; from a recording they " +
		"are measured."
	UnmeasuredMarks = "How fast and how wide is measured from a recording; a tab only names its marks."
)

// Change is how often textures change within phrases, or where what is rough lies, in a
// sentence; empty where it says nothing.
func Change(m study.Measure) string {
	switch {
	case m.Unit == study.OfOne && m.P != nil:
		return fmt.Sprintf("Rough sound lies on average %.0f%% into its phrase, in any other order %.0f%% (%s).",
			100*m.Value, 100**m.Expected, Chance(*m.P))
	case m.Unit == study.Count && m.P != nil:
		return fmt.Sprintf("From %s within a phrase: %s, in any other order %.1f times (%s).", m.Name,
			Times(m.Value), *m.Expected, Chance(*m.P))
	case m.Unit == study.Count:
		return fmt.Sprintf("From %s within a phrase: %s.", m.Name, Times(m.Value))
	}
	return ""
}

// Hole is how many of the notes on a hole have a mark, in a sentence; empty where it is no
// more than chance.
func Hole(m study.Measure) string {
	if m.P != nil && !m.Beyond() {
		return ""
	}
	text := fmt.Sprintf("%s on %s: %s, %s of its notes", m.Name, m.Over, Times(m.N), Percent(m.Value))
	if m.P != nil {
		text += fmt.Sprintf(", of all notes %s (%s)", Percent(*m.Expected), Chance(*m.P))
	}
	return text
}

// Beside says how much differs between two players.
func Beside(list []study.Difference) string {
	tested, beyond := false, 0
	for _, d := range list {
		tested = tested || d.P != nil
		if d.Beyond() {
			beyond++
		}
	}
	switch {
	case !tested:
		return fmt.Sprintf("One of them is too short to tell a difference from chance: at least %d bars and a few "+
			"phrases are needed. The numbers stand side by side all the same.", study.LeastBars)
	case beyond == 0:
		return "Nothing differs by more than chance brings between phrases dealt out to two players."
	case beyond == 1:
		return "1 measure differs by more than chance, marked *: p is that of phrases dealt out to two players."
	}
	return fmt.Sprintf("%d measures differ by more than chance, marked *: p is that of phrases dealt out to "+
		"two players.", beyond)
}

// ShownBeside leaves out the shares over single chords that do not differ.
func ShownBeside(d study.Difference) bool {
	return d.Beyond() || d.Unit != study.Share || d.Over == "" || d.Part != study.Parts()[0]
}

// DifferenceName is what differs, in words.
func DifferenceName(d study.Difference) string {
	switch {
	case d.Unit == study.PerHund:
		return d.Name + ", " + d.Unit
	case d.Over == "" && d.Part == study.Parts()[0]:
		return "degree " + d.Name
	case d.Over == "":
		return d.Name
	case d.Part == study.Parts()[0] && d.Unit == study.Share:
		return "degree " + d.Name + " over " + d.Over
	case d.Part == study.Parts()[0]:
		return "blue " + d.Name + ", " + d.Over
	}
	return d.Name + ", " + d.Over
}

// Uneven is how likely chance spreads the beginnings and ends of phrases as unevenly over
// the beats of the bar, in a sentence; they must have been tested.
func Uneven(t study.Time) string {
	return fmt.Sprintf("As uneven over the beats by chance: beginnings %s, ends %s.", Chance(*t.BeginsP),
		Chance(*t.EndsP))
}
