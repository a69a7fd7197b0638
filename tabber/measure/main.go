// Command measure transcribes every clip of a folder that has its truth beside
// it and prints the scores of package score, clip by clip and as means, and how well
// the marks of the truth were found in each tier:
//
//	go run ./tabber/measure [-from SECONDS] [-ear NAME] [-onset SECONDS] [-json FOLDER] FOLDER
//
// NAME.truth.json is what score.ReadTruth reads and
// `go run ./tabber/hardset/write FOLDER` writes.
//
//	go run ./tabber/measure -aubio [-latency SECONDS] [-onset SECONDS] FOLDER
//
// scores the notes that the command aubionotes of the aubio library finds
// (Debian package aubio-tools) instead, as a yardstick: noteF and offF only.
//
//	go run ./tabber/measure -yardsticks [-latency SECONDS] [-onset SECONDS] FOLDER
//
// runs aubio's programs and blowdraw on the same clips and prints noteF, time and
// memory of each side by side.
//
//	go run ./tabber/measure -first-beats SECONDS,... [-ear NAME] FOLDER
//
// hears each clip that states its bars from each of these times on and counts how
// often the first beat of the bar is right, against the pace that a band really has.
package main

import (
	"cmp"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/tab"
)

func main() {
	if len(os.Args) > 2 && os.Args[1] == costly {
		os.Exit(runCostly(os.Args[2:]))
	}
	from := flag.Float64("from", 0, "seconds into each clip at which to begin")
	ear := flag.String("ear", "learned", "how to listen: learned or classical")
	onset := flag.Float64("onset", 0.05, "tolerance of onsets in seconds")
	keep := flag.String("json", "", "also write each transcription as JSON into this folder")
	aubio := flag.Bool("aubio", false, "score aubionotes instead, noteF and offF only")
	latency := flag.Float64("latency", 0.065, "seconds by which the notes of aubionotes come late")
	beside := flag.Bool("yardsticks", false, "print noteF, time and memory of aubio's programs and blowdraw side by side")
	begun := flag.String("first-beats", "", "count right first beats in clips begun at these `seconds`, comma separated")
	flag.Parse()
	if *begun != "" {
		if flag.NArg() != 1 || *aubio || *beside || *keep != "" || *from != 0 {
			flag.Usage()
			os.Exit(2)
		}
		starts, err := parseStarts(*begun)
		if err == nil {
			err = measureFirsts(os.Stdout, flag.Arg(0), starts, *ear)
		}
		exit(err)
		return
	}
	if flag.NArg() != 1 || (*aubio || *beside) && (*keep != "" || *from != 0) || *aubio && *beside {
		flag.Usage()
		os.Exit(2)
	}
	hear := func(path string) (clip, error) { return transcribe(path, *from, *ear, *onset, *keep) }
	if *aubio {
		hear = func(path string) (clip, error) { return aubioNotes(path, *latency, *onset) }
	}
	var err error
	if *beside {
		err = measureYardsticks(os.Stdout, flag.Arg(0), *latency, *onset)
	} else {
		err = measure(flag.Arg(0), hear)
	}
	exit(err)
}

// exit with what went wrong, if anything did.
func exit(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

// measure prints the scores of every clip in dir; hear takes the truth's path.
func measure(dir string, hear func(path string) (clip, error)) error {
	files, err := filepath.Glob(filepath.Join(dir, "*.truth.json"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("no clips (NAME.truth.json) in %s", dir)
	}
	clips := make([]clip, len(files))
	errs := make([]error, len(files))
	turns := make(chan bool, 2)
	var wg sync.WaitGroup
	for i, f := range files {
		wg.Go(func() {
			turns <- true
			defer func() { <-turns }()
			clips[i], errs[i] = hear(f)
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	print(clips)
	return nil
}

// clip is one transcribed recording and how right it is.
type clip struct {
	name, tier string
	measures   score.Measures
	est        tab.Document
	marks      [len(scoredMarks)]score.MarkScore
}

// scoredMarks are the marks that a truth may have.
var scoredMarks = [...]string{tab.Vibrato, tab.Scoop, tab.Slap, tab.Fall, tab.Dip, tab.HandVibrato,
	tab.Pull, tab.Tongued, tab.Legato, tab.Wah, tab.HandClose, tab.Accent}

func transcribe(path string, from float64, ear string, onset float64, keep string) (clip, error) {
	name := strings.TrimSuffix(filepath.Base(path), ".truth.json")
	ref, tier, err := score.ReadTruth(path)
	if err != nil {
		return clip{}, err
	}
	t, err := tabber.NewTranscriber(ref.Harp, tabber.Options{Ear: ear, SongKey: &ref.SongKey})
	if err != nil {
		return clip{}, err
	}
	recording, section := filepath.Join(filepath.Dir(path), ref.Recording), decode.Options{Rate: pitch.Rate, From: from}
	if section.Channel, err = t.BestChannel(context.Background(), recording, section); err != nil {
		return clip{}, err
	}
	s, err := decode.Open(recording, section)
	if err != nil {
		return clip{}, err
	}
	defer s.Close()
	r, err := t.Stream(context.Background(), s, from)
	if err != nil {
		return clip{}, fmt.Errorf("transcribing %s: %w", ref.Recording, err)
	}
	est := r.Document(ref.Recording, ref.Harp, "", nil)
	est.SongKey = ref.SongKey
	if keep != "" {
		if err := writeJSON(filepath.Join(keep, name+".json"), est); err != nil {
			return clip{}, err
		}
	}
	starts := make([]float64, len(est.Events))
	for i, e := range est.Events {
		starts[i] = e.Start
	}
	ref = since(ref, from)
	c := clip{name: name, tier: tier, measures: score.Compare(ref, est, onset), est: est}
	c.measures.Grid = 1000 * score.Grid(starts, r.Tempo.Beats)
	if section.Channel == decode.Mix { // the truth's level is that in the mix
		level, err := harpLevel(path, tier)
		if err != nil {
			return clip{}, err
		}
		c.measures.Level = math.Abs(level - r.Condition.HarpDB)
	}
	told := withJoins(est.Events)
	for i, m := range scoredMarks {
		c.marks[i] = score.Marks(ref.Events, told, m, onset)
	}
	return c, nil
}

// withJoins marks every event as tongued or legato that is, not only what is unusual in
// its section.
func withJoins(events []tab.Event) []tab.Event {
	out := slices.Clone(events)
	for i := range out {
		e := &out[i]
		e.Marks = slices.DeleteFunc(slices.Clone(e.Marks), func(m tab.Mark) bool { return m.Name == tab.Tongued || m.Name == tab.Legato })
		if how := e.Join.How(); how != "" {
			e.Marks = append(e.Marks, tab.Mark{Name: how})
		}
	}
	return out
}

// tierLevels are the harp's levels in dB against the band in the bench's tiers.
var tierLevels = map[string]float64{"band+6": 6, "band0": 0, "record": 3}

// harpLevel is the harp's level in dB against the band as the truth states it
// ("harp_db"), or else the tier; NaN if neither does.
func harpLevel(path, tier string) (float64, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return 0, fmt.Errorf("reading the truth: %w", err)
	}
	var truth struct {
		HarpDB *float64 `json:"harp_db"`
	}
	if err := json.Unmarshal(text, &truth); err != nil {
		return 0, fmt.Errorf("reading %s: %w", path, err)
	}
	if truth.HarpDB != nil {
		return *truth.HarpDB, nil
	}
	if level, ok := tierLevels[tier]; ok {
		return level, nil
	}
	return math.NaN(), nil
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

func writeJSON(path string, d tab.Document) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := tab.WriteJSON(f, d); err != nil {
		f.Close()
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return f.Close()
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
	{"false", "%8.1f", func(m score.Measures) float64 { return m.False }},
}

func print(clips []clip) {
	fmt.Printf("%-20s", "clip")
	for _, c := range columns {
		fmt.Printf("%8s", c.name)
	}
	fmt.Println()
	var tiers []string
	for _, c := range clips {
		row(c.name, []clip{c})
		if !slices.Contains(tiers, c.tier) {
			tiers = append(tiers, c.tier)
		}
	}
	fmt.Println()
	for _, t := range tiers {
		var of []clip
		for _, c := range clips {
			if c.tier == t {
				of = append(of, c)
			}
		}
		row(fmt.Sprintf("mean %s (%d)", t, len(of)), of)
	}
	if len(tiers) > 1 {
		row(fmt.Sprintf("mean all (%d)", len(clips)), clips)
	}
	printMarks(clips, tiers)
}

// printMarks prints for each tier the F of every mark that occurs, with how many
// there are, and the median errors of the rate (Hz) and extent (share) of vibratos;
// then the share of the written marks that are right, and of the true ones found.
func printMarks(clips []clip, tiers []string) {
	total := marksOf(clips, "")
	all := 0
	for _, m := range total {
		all += m.Ref
	}
	if all == 0 {
		return
	}
	fmt.Printf("\n%-20s", "marks")
	for i, name := range scoredMarks {
		if total[i].Ref > 0 {
			fmt.Printf("%16s", name)
		}
	}
	fmt.Printf("%8s%8s\n", "hz", "extent")
	for _, t := range append(slices.Clone(tiers), "") {
		of := marksOf(clips, t)
		fmt.Printf("%-20s", cmp.Or(t, "all"))
		for i := range of {
			if total[i].Ref > 0 {
				fmt.Printf("%10.3f (%3d)", of[i].F(), of[i].Ref)
			}
		}
		fmt.Printf("%8.2f%8.2f\n", pitch.Median(of[0].Rate), pitch.Median(of[0].Extent))
	}
	for _, r := range []struct {
		name string
		of   func(score.MarkScore) (float64, int)
	}{
		{"precision", func(m score.MarkScore) (float64, int) { return float64(m.Found) / float64(m.Est), m.Est }},
		{"recall", func(m score.MarkScore) (float64, int) { return float64(m.Found) / float64(m.Ref), m.Ref }},
	} {
		fmt.Printf("%-20s", r.name)
		for _, m := range total {
			if share, n := r.of(m); m.Ref > 0 {
				fmt.Printf("%10.3f (%3d)", share, n)
			}
		}
		fmt.Println()
	}
}

// marksOf adds up the scores of the clips of a tier, all clips if it is empty.
func marksOf(clips []clip, tier string) (sum [len(scoredMarks)]score.MarkScore) {
	for _, c := range clips {
		for i := range sum {
			if tier == "" || c.tier == tier {
				sum[i].Add(c.marks[i])
			}
		}
	}
	return sum
}

// row prints the means over clips, leaving out what does not apply.
func row(name string, clips []clip) {
	fmt.Printf("%-20s", name)
	for _, c := range columns {
		sum, n := 0.0, 0
		for _, x := range clips {
			if v := c.of(x.measures); !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		if n == 0 {
			fmt.Printf("%8s", "-")
			continue
		}
		fmt.Printf(c.format, sum/float64(n))
	}
	fmt.Println()
}
