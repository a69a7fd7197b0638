// Package measure hears folders of clips that have their truth beside them (package
// truth) and prints how right the transcriptions are, as package score measures it: clip
// by clip and as means, beside what other programs make of the same clips.
package measure

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/beats"
	"blowdraw/tabber/lab/files"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// Options say how clips are heard and judged.
type Options struct {
	From  float64 // seconds into each clip at which to begin
	Ear   string  // learned or classical
	Onset float64 // tolerance of onsets, seconds
	Keep  string  // folder for each transcription as JSON; none if empty
	Sound string  // folder of recordings that do not lie beside their truth; none if empty
}

// atOnce is how many clips are heard at once.
const atOnce = 2

// eachClip calls do for every truth in a folder, two at once, and returns what it gives in
// the order of the names.
func eachClip[T any](ctx context.Context, dir string, do func(path string) (T, error)) ([]T, error) {
	paths, err := truth.In(dir)
	if err != nil {
		return nil, err
	}
	out, errs := make([]T, len(paths)), make([]error, len(paths))
	parallel.On(atOnce, len(paths), func(_, i int) {
		if errs[i] = ctx.Err(); errs[i] == nil {
			out[i], errs[i] = do(paths[i])
		}
	})
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Folder transcribes every clip of a folder.
func Folder(ctx context.Context, dir string, o Options) ([]Clip, error) {
	return eachClip(ctx, dir, func(path string) (Clip, error) { return transcribe(ctx, path, o) })
}

// Clip is one transcribed recording and how right it is.
type Clip struct {
	Name, Tier string
	Measures   score.Measures
	Est        tab.Document
	marks      [len(scoredMarks)]score.MarkScore
}

// scoredMarks are the marks that a truth may have.
var scoredMarks = [...]string{tab.Vibrato, tab.Scoop, tab.Slap, tab.Fall, tab.Dip, tab.HandVibrato,
	tab.Pull, tab.Tongued, tab.Legato, tab.Wah, tab.HandClose, tab.Accent}

// transcribe hears one clip and scores it.
func transcribe(ctx context.Context, path string, o Options) (Clip, error) {
	f, err := truth.Read(path)
	if err != nil {
		return Clip{}, err
	}
	ref, err := f.Document()
	if err != nil {
		return Clip{}, fmt.Errorf("reading %s: %w", path, err)
	}
	h, err := hear(ctx, path, ref, o)
	if err != nil {
		return Clip{}, err
	}
	est := h.doc
	starts := make([]float64, len(est.Events))
	for i, e := range est.Events {
		starts[i] = e.Start
	}
	ref = since(ref, o.From)
	c := Clip{Name: truth.Name(path), Tier: f.Tier, Measures: score.Compare(ref, est, o.Onset), Est: est}
	c.Measures.Grid = 1000 * score.Grid(starts, h.result.Tempo.Beats)
	if level, known := f.Level(); known && h.channel == decode.Mix { // the truth's level is that in the mix
		c.Measures.Level = math.Abs(level - h.result.Condition.HarpDB)
	}
	told := withJoins(est.Events)
	for i, m := range scoredMarks {
		c.marks[i] = score.Marks(ref.Events, told, m, o.Onset)
	}
	return c, nil
}

// heard is a transcription with what it came from.
type heard struct {
	doc     tab.Document
	result  tabber.Result
	channel decode.Channel
}

// hear transcribes the recording of a truth, for its harp and song key, and keeps the
// JSON where that is asked for.
func hear(ctx context.Context, path string, ref tab.Document, o Options) (heard, error) {
	t, err := tabber.NewTranscriber(ref.Harp, tabber.Options{Ear: o.Ear, Asked: beats.Asked{SongKey: &ref.SongKey}})
	if err != nil {
		return heard{}, err
	}
	recording, section := soundOf(path, ref.Recording, o.Sound), decode.Options{Rate: pitch.Rate, From: o.From}
	if section.Channel, err = t.BestChannel(ctx, recording, section); err != nil {
		return heard{}, err
	}
	s, err := decode.Open(recording, section)
	if err != nil {
		return heard{}, err
	}
	defer s.Close()
	r, err := t.Stream(ctx, s, o.From)
	if err != nil {
		return heard{}, fmt.Errorf("transcribing %s: %w", ref.Recording, err)
	}
	d := r.Document(ref.Recording, ref.Harp, "", nil)
	d.SongKey = ref.SongKey
	if o.Keep != "" {
		err = files.Write(filepath.Join(o.Keep, truth.Name(path)+".json"),
			func(w io.Writer) error { return tab.WriteJSON(w, d) })
	}
	return heard{d, r, section.Channel}, err
}

// soundOf is where the recording of a truth lies: beside it, or in the other folder.
func soundOf(path, recording, other string) string {
	beside := filepath.Join(filepath.Dir(path), recording)
	if _, err := os.Stat(beside); err != nil && other != "" {
		return filepath.Join(other, recording)
	}
	return beside
}

// withJoins marks every event as tongued or legato that is, not only what is unusual in
// its section.
func withJoins(events []tab.Event) []tab.Event {
	out := slices.Clone(events)
	for i := range out {
		e := &out[i]
		e.Marks = slices.DeleteFunc(slices.Clone(e.Marks),
			func(m tab.Mark) bool { return m.Name == tab.Tongued || m.Name == tab.Legato })
		if how := e.Join.How(); how != "" {
			e.Marks = append(e.Marks, tab.Mark{Name: how})
		}
	}
	return out
}

// shortest is how many seconds of a note or phrase must be left for it to count.
const shortest = 0.1

// since is what of the truth lies after a time: a note that sounds then begins
// there, a phrase with the first note that is left of it.
func since(d tab.Document, from float64) tab.Document {
	d.Events = slices.DeleteFunc(d.Events, func(e tab.Event) bool { return e.End < from+shortest })
	for i := range d.Events {
		d.Events[i].Start = max(d.Events[i].Start, from)
	}
	d.Phrases = slices.DeleteFunc(d.Phrases, func(p tab.Phrase) bool { return p.End < from+shortest })
	if len(d.Phrases) > 0 && len(d.Events) > 0 {
		d.Phrases[0].Start = max(d.Phrases[0].Start, d.Events[0].Start)
	}
	return d
}

// columns of the table, in order.
var columns = []struct {
	name   string
	format string
	of     func(score.Measures) float64
}{
	{"noteF", "%8.3f", func(m score.Measures) float64 { return m.NoteF }},
	{"offF", "%8.3f", func(m score.Measures) float64 { return m.OffsetF }},
	{"tabF", "%8.3f", func(m score.Measures) float64 { return m.TabF }},
	{"texF", "%8.3f", func(m score.Measures) float64 { return m.TextureF }},
	{"splits", "%8.3f", func(m score.Measures) float64 { return m.Splits }},
	{"phrF", "%8.3f", func(m score.Measures) float64 { return m.PhraseF }},
	{"bpm", "%8.3f", func(m score.Measures) float64 { return m.Tempo }},
	{"bars", "%8.3f", func(m score.Measures) float64 { return m.Bars }},
	{"barred", "%8.3f", func(m score.Measures) float64 { return m.Barred }},
	{"grid ms", "%8.1f", func(m score.Measures) float64 { return m.Grid }},
	{"cents", "%8.1f", func(m score.Measures) float64 { return m.Tuning }},
	{"sure ok", "%8.3f", func(m score.Measures) float64 { return m.SureRight }},
	{"sure of", "%8.3f", func(m score.Measures) float64 { return m.SureShare }},
	{"playing", "%8.3f", func(m score.Measures) float64 { return m.Playing }},
	{"harp dB", "%8.1f", func(m score.Measures) float64 { return m.Level }},
	{"extra", "%8.1f", func(m score.Measures) float64 { return m.Extra }},
	{"sure ex", "%8.1f", func(m score.Measures) float64 { return m.ExtraSure }},
}

// Print prints a row for every clip and the means of every tier, and how well the marks of
// the truth were found in each tier.
func Print(w io.Writer, clips []Clip) {
	fmt.Fprintf(w, "%-20s", "clip")
	for _, c := range columns {
		fmt.Fprintf(w, "%8s", c.name)
	}
	fmt.Fprintln(w)
	for _, c := range clips {
		row(w, c.Name, []Clip{c})
	}
	fmt.Fprintln(w)
	tiers := tiersOf(clips)
	for _, t := range tiers {
		of := inTier(clips, t)
		row(w, fmt.Sprintf("mean %s (%d)", t, len(of)), of)
	}
	if len(tiers) > 1 {
		row(w, fmt.Sprintf("mean all (%d)", len(clips)), clips)
	}
	printMarks(w, clips, tiers)
}

// tiersOf lists the tiers of clips in the order in which they come.
func tiersOf(clips []Clip) []string {
	var tiers []string
	for _, c := range clips {
		if !slices.Contains(tiers, c.Tier) {
			tiers = append(tiers, c.Tier)
		}
	}
	return tiers
}

func inTier(clips []Clip, tier string) []Clip {
	return slices.DeleteFunc(slices.Clone(clips), func(c Clip) bool { return c.Tier != tier })
}

// printMarks prints for each tier the F of every mark that occurs, with how many
// there are, and the median errors of the rate (Hz) and extent (share) of vibratos;
// then the share of the written marks that are right, and of the true ones found.
func printMarks(w io.Writer, clips []Clip, tiers []string) {
	total := marksOf(clips, "")
	all := 0
	for _, m := range total {
		all += m.Ref
	}
	if all == 0 {
		return
	}
	fmt.Fprintf(w, "\n%-20s", "marks")
	for i, name := range scoredMarks {
		if total[i].Ref > 0 {
			fmt.Fprintf(w, "%16s", name)
		}
	}
	fmt.Fprintf(w, "%8s%8s\n", "hz", "extent")
	for _, t := range append(slices.Clone(tiers), "") {
		of := marksOf(clips, t)
		fmt.Fprintf(w, "%-20s", cmp.Or(t, "all"))
		for i := range of {
			if total[i].Ref > 0 {
				fmt.Fprintf(w, "%10.3f (%3d)", of[i].F(), of[i].Ref)
			}
		}
		fmt.Fprintf(w, "%8.2f%8.2f\n", pitch.Median(of[0].Rate), pitch.Median(of[0].Extent))
	}
	for _, r := range []struct {
		name string
		of   func(score.MarkScore) (float64, int)
	}{
		{"precision", func(m score.MarkScore) (float64, int) { return float64(m.Found) / float64(m.Est), m.Est }},
		{"recall", func(m score.MarkScore) (float64, int) { return float64(m.Found) / float64(m.Ref), m.Ref }},
	} {
		fmt.Fprintf(w, "%-20s", r.name)
		for _, m := range total {
			if share, n := r.of(m); m.Ref > 0 {
				fmt.Fprintf(w, "%10.3f (%3d)", share, n)
			}
		}
		fmt.Fprintln(w)
	}
}

// marksOf adds up the scores of the clips of a tier, all clips if it is empty.
func marksOf(clips []Clip, tier string) (sum [len(scoredMarks)]score.MarkScore) {
	for _, c := range clips {
		for i := range sum {
			if tier == "" || c.Tier == tier {
				sum[i].Add(c.marks[i])
			}
		}
	}
	return sum
}

// row prints the means over clips, leaving out what does not apply.
func row(w io.Writer, name string, clips []Clip) {
	fmt.Fprintf(w, "%-20s", name)
	for _, c := range columns {
		v, ok := mean(clips, c.of)
		fmt.Fprint(w, cell(c.format, v, ok))
	}
	fmt.Fprintln(w)
}

// mean of a measure over the clips that have it; ok is false if none has.
func mean(clips []Clip, of func(score.Measures) float64) (v float64, ok bool) {
	sum, n := 0.0, 0
	for _, c := range clips {
		if v := of(c.Measures); !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / float64(max(n, 1)), n > 0
}
