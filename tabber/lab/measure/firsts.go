package measure

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"blowdraw/decode"
	"blowdraw/onset/form"
	"blowdraw/pitch"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// firsts is whether the first beat of the bar is right in a clip, begun at several
// times.
type firsts struct {
	name, tier string
	band       bool
	bpm        float64
	// pace is the tempo of what strikes below 110 Hz, divided by the stated one; NaN
	// without a band.
	pace    float64
	written []bool // by start
	right   []bool
}

// FirstBeats prints for every clip of a folder that states its bars, unless it is to be
// brief, and for every tier, whether [score.FirstBeat] is right when the clip is heard
// from each of the starts on, in seconds. The tempo at which the bass of a band strikes is
// printed beside it, so that it can be seen that the bars are as stated.
func FirstBeats(ctx context.Context, w io.Writer, dir string, starts []float64, ear string,
	brief bool) error {
	all, err := eachClip(ctx, dir, func(path string) (firsts, error) { return firstsOf(ctx, path, starts, ear) })
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(f firsts) bool { return f.bpm == 0 })
	if len(all) == 0 {
		return fmt.Errorf("no clip in %s states its bars", dir)
	}
	if !brief {
		printFirstClips(w, all, starts)
		fmt.Fprintln(w)
	}
	printFirsts(w, all, starts)
	return nil
}

// firstsOf a clip; one without bars has no tempo.
func firstsOf(ctx context.Context, path string, starts []float64, ear string) (firsts, error) {
	played, err := truth.Read(path)
	if err != nil {
		return firsts{}, err
	}
	ref, err := played.Document()
	if err != nil || len(ref.Bars) == 0 {
		return firsts{}, err
	}
	_, band := played.Level()
	f := firsts{name: truth.Name(path), tier: played.Tier, band: band, bpm: ref.BPM, pace: math.NaN()}
	if f.band {
		c, _, _, err := decode.Load(filepath.Join(filepath.Dir(path), ref.Recording),
			decode.Options{Rate: pitch.Rate})
		if err != nil {
			return firsts{}, err
		}
		var s form.Sound
		s.Add(c.Samples, c.Rate, c.Start, ref.TuningCents)
		f.pace = struckPace(s, f.bpm)
	}
	for _, from := range starts {
		h, err := hear(ctx, path, ref, Options{From: from, Ear: ear})
		if err != nil {
			return firsts{}, err
		}
		f.add(ref, h.doc)
	}
	return f, nil
}

// add judges one more transcription.
func (f *firsts) add(ref, est tab.Document) {
	f.written = append(f.written, len(est.Bars) > 0)
	f.right = append(f.right, score.FirstBeat(ref, est))
}

// struckPace is the tempo near bpm, divided by it, at which the rises of the level
// below 110 Hz lie at the same place of the beat throughout: the maximum of the sum
// of unit vectors turned by the beats, within 3 %.
func struckPace(s form.Sound, bpm float64) float64 {
	const reach, step = 0.03, 0.0001
	best, most := math.NaN(), 0.0
	for pace := 1 - reach; pace <= 1+reach; pace += step {
		sum := complex(0, 0)
		for i := 1; i < len(s.Kick); i++ {
			rise := max(0, float64(s.Kick[i]-s.Kick[i-1]))
			sum += complex(rise, 0) * cmplx.Exp(complex(0, 2*math.Pi*float64(i)*s.DrumHop*bpm*pace/60))
		}
		if v := cmplx.Abs(sum); v > most {
			best, most = pace, v
		}
	}
	return best
}

// printFirstClips prints a row for every clip. + is right, - is wrong, . is nothing written.
func printFirstClips(w io.Writer, all []firsts, starts []float64) {
	fmt.Fprintf(w, "%-20s%8s%8s  first beat from", "clip", "bpm", "struck")
	for _, s := range starts {
		fmt.Fprintf(w, " %5g", s)
	}
	fmt.Fprintln(w)
	for _, f := range all {
		fmt.Fprintf(w, "%-20s%8g%8s                 ", f.name, f.bpm, paceText(f.pace))
		for i := range starts {
			fmt.Fprintf(w, " %5s", f.sign(i))
		}
		fmt.Fprintln(w)
	}
}

// printFirsts prints the counts of every tier.
func printFirsts(w io.Writer, all []firsts, starts []float64) {
	var tiers []string
	for _, f := range all {
		if !slices.Contains(tiers, f.tier) {
			tiers = append(tiers, f.tier)
		}
	}
	fmt.Fprintf(w, "%-28s%8s%8s%8s\n", "first beat right of", "clips", "written", "right")
	count := func(name string, begun func(float64) bool, of func(firsts) bool) {
		var n, written, right int
		for _, f := range all {
			for i, s := range starts {
				if of(f) && begun(s) {
					n, written, right = n+1, written+one(f.written[i]), right+one(f.right[i])
				}
			}
		}
		if n > 0 {
			fmt.Fprintf(w, "%-28s%8d%8d%8d\n", name, n, written, right)
		}
	}
	any := func(float64) bool { return true }
	band := func(f firsts) bool { return f.band }
	for _, t := range tiers {
		count(t, any, func(f firsts) bool { return f.tier == t })
	}
	for _, s := range starts {
		count("with a band, from "+strconv.FormatFloat(s, 'g', -1, 64), func(v float64) bool { return v == s },
			band)
	}
	count("with a band, from over 0", func(v float64) bool { return v > 0 }, band)
	count("without a band", any, func(f firsts) bool { return !f.band })
	fmt.Fprint(w, `
Right: more than half of the bar lines written lie within a quarter of a beat of a true first
beat, and they stand a bar apart. Nothing written is not right.
`)
}

func paceText(v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	return fmt.Sprintf("%.4f", v)
}

// sign of what came of a start.
func (f firsts) sign(start int) string {
	switch {
	case f.right[start]:
		return "+"
	case f.written[start]:
		return "-"
	}
	return "."
}

func one(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// ParseStarts reads seconds, separated by commas.
func ParseStarts(text string) ([]float64, error) {
	var out []float64
	for _, s := range strings.Split(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil || !(v >= 0) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("the start %q is not a number of seconds", s)
		}
		out = append(out, v)
	}
	return out, nil
}
