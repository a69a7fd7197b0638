package evidence

import (
	"fmt"
	"math"
	"strings"

	"blowdraw/pitch/partials"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Kind is a texture in a player's words, such as "octave split".
func Kind(h harp.Harp, texture string, a []harp.Action) string {
	interval := ""
	if len(a) == 2 {
		interval = harp.Interval(h.MIDI(a[1]) - h.MIDI(a[0]))
	}
	switch {
	case texture == tab.Single:
		return "one note"
	case texture == tab.Double && interval != "":
		return "double stop, " + interval
	case texture == tab.Double:
		return "double stop"
	case texture == tab.Split && interval != "":
		return interval + " split"
	case texture == tab.Split:
		return "split"
	}
	return "chord"
}

// Words say what the sound has to show for each reed beside the first, a sentence
// each. Tone is the tone of the first reed, nil if it could not be measured: it tells
// whether even and odd partials keep step. Usual is how far odd partials stray in the
// recording, as in [partials.Signs.OctaveOdds].
func Words(reeds []Reed, tone *partials.Tone, usual float64) []string {
	var out []string
	for _, r := range reeds[1:] {
		out = append(out, showing(reeds[0], r))
		if s := step(reeds[0], r, tone, usual); s != "" {
			out = append(out, s)
		}
		if s := strength(reeds[0], r); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// showing says which partials of a reed stand out.
func showing(first, r Reed) string {
	var alone, shared, onFirst []string
	least, most, rise := math.Inf(1), 0.0, []string{}
	for _, p := range r.Telling() {
		if p.Shared {
			shared = append(shared, fmt.Sprint(p.Number))
			onFirst = append(onFirst, fmt.Sprintf("%.0f", p.Hz/first.Hz))
			rise = append(rise, fmt.Sprintf("%.0f", p.Over()))
			continue
		}
		alone = append(alone, fmt.Sprint(p.Number))
		least, most = min(least, p.Over()), max(most, p.Over())
	}
	var parts []string
	if len(alone) > 0 {
		parts = append(
			parts,
			fmt.Sprintf(
				"%s stand%s alone, %s above what lies around",
				partialList(alone),
				single(alone),
				rises(least, most),
			),
		)
	}
	if len(shared) > 0 {
		parts = append(
			parts,
			fmt.Sprintf("%s, which %s also has as %s, rise%s %s dB above what %s alone lets expect",
				partialList(shared), first.Name, and(onFirst), single(shared), and(rise), first.Name),
		)
	}
	if len(parts) == 0 {
		return r.Name + ": none of its partials stands out."
	}
	return r.Name + ": " + strings.Join(parts, "; ") + "."
}

func partialList(numbers []string) string {
	switch n := len(numbers); {
	case n == 1:
		return "partial " + numbers[0]
	case n > 2 && numbers[n-1] == fmt.Sprint(n): // all from the first on
		return "partials 1 to " + numbers[n-1]
	}
	return "partials " + and(numbers)
}

// single is the s of a verb whose subject is one thing.
func single(of []string) string {
	if len(of) == 1 {
		return "s"
	}
	return ""
}

func rises(least, most float64) string {
	if math.Round(least) == math.Round(most) {
		return fmt.Sprintf("%.0f dB", most)
	}
	return fmt.Sprintf("%.0f to %.0f dB", least, most)
}

// and joins words as in "1, 2 and 3".
func and(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}

// step says whether an octave's partials keep step with those of its lower reed;
// nothing of other intervals, or where the sound is too short.
func step(first, r Reed, tone *partials.Tone, usual float64) string {
	if tone == nil || math.Abs(1200*math.Log2(r.Hz/first.Hz)-1200) > 50 {
		return ""
	}
	return inStep(tone.Signs(), "The even partials of "+first.Name, usual)
}

// inStep says of the even partials, which are called so, whether they keep step.
func inStep(s partials.Signs, called string, usual float64) string {
	share := func(x float64) string {
		if x = math.Pow(10, x); x < 0.001 {
			return "under 0.1%"
		}
		return fmt.Sprintf("%.1f%%", 100*x)
	}
	says := "keep step with the odd ones, as those of one reed do"
	switch odds := s.OctaveOdds(usual); {
	case odds > 1:
		says = "waver against the odd ones, as those of two reeds do"
	case odds > -1:
		says = "waver a little, which tells neither one reed nor two"
	}
	return fmt.Sprintf("%s %s (astray: even %s, odd %s).", called, says, share(s.EvenMiddle), share(s.OddMiddle))
}

const (
	equalDB  = 1.5  // levels that differ by less are the same
	lateFrom = 0.04 // s from which a reed begins late
)

// strength says how loud a reed is beside the first, and from when.
func strength(first, r Reed) string {
	if math.IsNaN(r.Weaker) {
		return ""
	}
	says := fmt.Sprintf("%s is about as strong as %s", r.Name, first.Name)
	switch {
	case r.Weaker >= equalDB:
		says = fmt.Sprintf("%s is about %.0f dB weaker than %s", r.Name, r.Weaker, first.Name)
	case r.Weaker <= -equalDB:
		says = fmt.Sprintf("%s is about %.0f dB stronger than %s", r.Name, -r.Weaker, first.Name)
	}
	if r.Late >= lateFrom {
		says += fmt.Sprintf(" and begins %.2f s after it", r.Late)
	} else if !math.IsNaN(r.Late) {
		says += " and begins with it"
	}
	return says + "."
}
