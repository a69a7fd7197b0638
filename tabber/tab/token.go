package tab

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"blowdraw/tabber/harp"
)

// Token writes the reeds of an event as tab, and nothing for no reeds:
//
//	4  -4  -3''  6o  -7o  [-4 -5]
//
// The signs are common practice among players, no source; the brackets are this
// document's own.
func Token(a []harp.Action) string {
	notes := make([]string, len(a))
	for i := range a {
		notes[i] = noteToken(a[i])
	}
	if len(a) == 1 {
		return notes[0]
	}
	if len(a) == 0 {
		return ""
	}
	return "[" + strings.Join(notes, " ") + "]"
}

func noteToken(a harp.Action) string {
	s := strconv.Itoa(a.Hole)
	if a.Breath == harp.Draw {
		s = "-" + s
	}
	if a.Bend < 0 {
		return s + "o"
	}
	return s + strings.Repeat("'", a.Bend)
}

// ParseToken reads what [Token] writes, and what else players commonly write for
// it (common practice, no source): the reeds, ascending by hole, as the harp has
// them. A + is blow, and so is B behind the hole, as D is draw; b is a bend like
// the apostrophe, typographic or not, and " are two; reeds together may stand in
// brackets of either kind, parted by spaces or commas, or between slashes:
//
//	+4  4D  4B  -3b  3D''  -4/-5  (-4 -5)
//
// Reeds that the harp does not have, reeds of both breaths together and a hole
// given twice are errors, and so is what players write for two things: 8b, which is
// blow 8 or its bend, (4), which is draw 4 or blow 4, and -123, notes run together.
func ParseToken(h harp.Harp, s string) ([]harp.Action, error) {
	inner := strings.TrimSpace(s)
	bracket := inner != "" && strings.Contains("[(", inner[:1])
	if bracket {
		var closed bool
		if inner, closed = strings.CutSuffix(inner[1:], closings[inner[0]]); !closed {
			return nil, fmt.Errorf("%s has no closing bracket", s)
		}
	}
	if notes := strings.Fields(inner); len(notes) > 1 && !bracket {
		return nil, fmt.Errorf("%s: notes played together go in brackets: [%s]", s, strings.Join(notes, " "))
	}
	var notes []string
	if bracket {
		inner = strings.ReplaceAll(inner, ",", " ")
	}
	for _, word := range strings.Fields(inner) {
		notes = append(notes, strings.Split(word, "/")...)
	}
	if len(notes) == 0 {
		return nil, errors.New("no note; want one such as 4, -4, -3'' or [-4 -5]")
	}
	if hole := notes[0]; len(notes) == 1 && strings.HasPrefix(strings.TrimSpace(s), "(") && bareHole(hole) {
		return nil, fmt.Errorf("(%s) is draw in some tabs; want -%s for draw, %s for blow", hole, hole, hole)
	}
	var out []harp.Action
	for _, n := range notes {
		a, err := parseNote(h, n)
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Hole < out[j].Hole })
	for i := 1; i < len(out); i++ {
		if out[i].Breath != out[0].Breath {
			return nil, fmt.Errorf("%s has blow and draw notes together", s)
		}
		if out[i].Hole == out[i-1].Hole {
			return nil, fmt.Errorf("%s has hole %d twice", s, out[i].Hole)
		}
	}
	return out, nil
}

// plainSigns are the plain ones in place of those that editors and players put.
var plainSigns = strings.NewReplacer(
	"’", "'", "‘", "'", "`", "'", "′", "'", "″", "''", "”", "''", "\"", "''",
	"−", "-", "–", "-", "—", "-", "‐", "-", "‑", "-", "－", "-", "＋", "+",
)

// noteForm is sign, hole, the letter of the breath and bends in either order,
// and the o of an overbend.
var noteForm = regexp.MustCompile(`^([-+]?)([0-9]+)([BDd]?)('*|b*|[oO])([BDd]?)$`)

// bareHole reports whether a note is a hole alone, without a breath.
func bareHole(note string) bool { return strings.Trim(note, "0123456789") == "" }

// runTogether is what to write for holes that are run together, as in -123, of a
// note that has the parts m of noteForm; empty if they are no holes of the harp.
func runTogether(h harp.Harp, m []string) string {
	var notes []string
	for rest := m[2]; rest != ""; {
		n := 1
		if strings.HasPrefix(rest, "10") && h.Layout.Holes() >= 10 {
			n = 2
		}
		hole, err := strconv.Atoi(rest[:n])
		if err != nil || hole < 1 || hole > h.Layout.Holes() {
			return ""
		}
		notes, rest = append(notes, m[1]+rest[:n]+m[3]+m[5]), rest[n:]
	}
	if len(notes) < 2 || len(notes) > h.Layout.Holes() || m[4] != "" {
		return ""
	}
	all := strings.Join(notes, " ")
	if _, err := ParseToken(h, "["+all+"]"); err != nil {
		return fmt.Sprintf("; want %s for notes in turn", all)
	}
	return fmt.Sprintf("; want [%s] for notes together, %s for notes in turn", all, all)
}

func parseNote(h harp.Harp, s string) (harp.Action, error) {
	m := noteForm.FindStringSubmatch(plainSigns.Replace(s))
	var a harp.Action
	if m == nil || m[3] != "" && m[5] != "" {
		return a, fmt.Errorf("%q is not tab; want a note such as 4, -4, -3'' or 6o", s)
	}
	sign, letter, bends := m[1], m[3]+m[5], m[4]
	draw := strings.EqualFold(letter, "D")
	if sign == "+" && draw || sign == "-" && letter == "B" {
		return a, fmt.Errorf("%s is blow by its sign or letter and draw by the other; want one of them", s)
	}
	if sign == "-" || draw {
		a.Breath = harp.Draw
	}
	hole, err := strconv.Atoi(m[2])
	if err != nil || hole < 1 || hole > h.Layout.Holes() {
		return a, fmt.Errorf("%s: this harp has holes 1 to %d%s", s, h.Layout.Holes(), runTogether(h, m))
	}
	a.Hole = hole
	if strings.EqualFold(bends, "o") {
		bend, ok := h.Layout.Overbend(a.Breath, hole)
		if !ok {
			kind := "overblow"
			if a.Breath == harp.Draw {
				kind = "overdraw"
			}
			return a, fmt.Errorf("%s: this harp has no %s on hole %d", s, kind, hole)
		}
		a.Bend = bend
		return a, nil
	}
	a.Bend = len(bends)
	if bends == "b" && sign+letter == "" && h.MaxBend(a.Breath, hole) > 0 {
		return a, fmt.Errorf("%s may be a bend or the letter of blow; want %d' for the bend, %d for blow", s,
			hole, hole)
	}
	if most := h.MaxBend(a.Breath, hole); a.Bend > most {
		reach := "does not bend by a semitone"
		if most > 0 {
			reach = "bends no deeper than " + noteToken(harp.Action{Breath: a.Breath, Hole: hole, Bend: most})
		}
		if bends == "b" && sign == "" {
			reach += fmt.Sprintf("; write %dB or %d for blow without a bend", hole, hole)
		}
		return a, fmt.Errorf("%s: %s %d of this harp %s", s, a.Breath, hole, reach)
	}
	return a, nil
}

// EventToken is what is played in an event as it is written: its tab, or for a sound that
// the harp cannot play its pitches in braces.
func (d Document) EventToken(e Event) string {
	if len(e.Actions) > 0 {
		return Token(e.Actions)
	}
	return d.PitchToken(e.Pitches)
}

// PitchToken writes pitches in braces as notes of the recording, after its
// tuning: {Bb4+30 D5}.
func (d Document) PitchToken(pitches []float64) string {
	notes := make([]string, len(pitches))
	for i, p := range pitches {
		midi, cents := nearestNote(p, round1(d.TuningCents))
		notes[i] = d.Harp.NoteName(midi, d.SongKey)
		if cents != 0 {
			notes[i] += fmt.Sprintf("%+d", cents)
		}
	}
	return "{" + strings.Join(notes, " ") + "}"
}

// nearestNote splits a measured pitch into the nearest note and the cents from
// it (-50 to 49), after the recording's tuning.
func nearestNote(pitch, tuning float64) (midi, cents int) {
	total := int(math.Round(100*pitch - tuning))
	midi = (total + 50) / 100
	if total+50 < 0 {
		midi = -((-total + 49) / 100)
	}
	return midi, total - 100*midi
}

// parsePitches undoes PitchToken.
func parsePitches(s string, tuning float64) ([]float64, error) {
	inner, closed := strings.CutSuffix(strings.TrimPrefix(s, "{"), "}")
	if !closed {
		return nil, fmt.Errorf("%s has no closing brace", s)
	}
	out := []float64{}
	for _, w := range strings.Fields(inner) {
		name := w
		cents := 0
		if i := strings.LastIndexAny(w, "+-"); i > 0 && strings.ContainsAny(w[:i], "0123456789") {
			var err error
			if cents, err = strconv.Atoi(w[i:]); err != nil || cents < -100 || cents > 100 {
				return nil, fmt.Errorf("pitch %q is off by %q; want at most 100 cents", w, w[i:])
			}
			name = w[:i]
		}
		letters := strings.TrimRight(name, "-0123456789")
		pc, err := harp.ParseKey(letters)
		octave, err2 := strconv.Atoi(name[len(letters):])
		if err != nil || err2 != nil || octave < -1 || octave > 9 {
			return nil, fmt.Errorf("pitch %q is not known; want one such as Bb4 or Bb4+30", w)
		}
		out = append(out, (float64(100*(12*(octave+1)+pc)+cents)+tuning)/100)
	}
	return out, nil
}
