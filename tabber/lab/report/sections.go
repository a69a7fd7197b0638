package report

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"time"

	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/lab/data"
	"blowdraw/tabber/lab/fuzzing"
	"blowdraw/tabber/lab/measure"
)

// Given is what there is to measure.
type Given struct {
	Bench string // folder of the bench, empty if there is none
	Real  string // folder of what people annotated
	Sound string // folder of their recordings, where these do not lie beside
	Sets  data.Cache
	Make  bool // sets of clips that are not there are made
	Aubio bool // aubio's programs are run
	Slow  bool // go test is run: benchmarks, pairs of reeds
	Hours bool // tests of faults and of load, and the fuzz targets are run, for hours
}

const (
	usual   = 0.05  // tolerance of onsets, seconds
	wide    = 0.1   // the same where starts are as a listener hears them
	latency = 0.065 // seconds by which the notes of aubionotes come late
	starts  = "0,2.2,3.1,5.3,6.4,7.7"
)

// Sections lists the tables of results.
func Sections(g Given) []Section {
	bench := func(s Section) Section {
		if g.Bench == "" {
			s.Missing = "no folder of the bench is given"
		}
		return s
	}
	return []Section{
		bench(Section{
			Title: "Bench",
			About: "Clips of 20 s, sampled reeds playing invented phrases: dry, in a hall, through an amplifier,\n" +
				"with a band 6 dB below and as loud, on a worn record. Means of tiers.",
			Commands: []string{"blowdraw-lab measure --tiers BENCH"},
			Table:    tiers(g.Bench, usual),
		}),
		hardSet(g),
		playedSets(g),
		songSets(g),
		real(g),
		playersUnder(g),
		recordedSets(g),
		bench(Section{
			Title:    "Which harp, on the bench",
			About:    "The harps ranked without being told the key. sure: probability given to the first.",
			Commands: []string{"blowdraw-lab measure --harps --tiers BENCH"},
			Table:    func(ctx context.Context, w io.Writer) error { return measure.Harps(ctx, w, g.Bench, true) },
		}),
		positionSet(g),
		bench(Section{
			Title:    "First beats",
			About:    "Whether the first beat of the bar is right, in clips of the bench begun at several times.",
			Commands: []string{"blowdraw-lab measure --first-beats " + starts + " --tiers BENCH"},
			Table: func(ctx context.Context, w io.Writer) error {
				at, err := measure.ParseStarts(starts)
				if err != nil {
					return err
				}
				return measure.FirstBeats(ctx, w, g.Bench, at, "learned", true)
			},
		}),
		yardsticks(g),
		pairs(g),
		speed(g),
		faults(g),
		load(g),
		fuzzed(g),
	}
}

// tiers prints those of a folder.
func tiers(dir string, onset float64) func(context.Context, io.Writer) error {
	return func(ctx context.Context, w io.Writer) error {
		all, err := measure.Folder(ctx, dir, measure.Options{Ear: "learned", Onset: onset})
		if err == nil {
			measure.PrintTiers(w, all)
		}
		return err
	}
}

// sets are the recipes of these names, and what is missing of them.
func (g Given) sets(names ...string) (all []data.Recipe, missing string) {
	var lacking []string
	for _, name := range names {
		r, err := data.Find(name)
		if err != nil {
			return nil, err.Error()
		}
		all = append(all, r)
		if _, ok := g.Sets.Have(r); !ok && !g.Make {
			lacking = append(lacking, name)
		}
	}
	if n := len(lacking); n > 0 {
		missing = fmt.Sprintf("%d of %d sets are not there, as %s (--make makes them)", n, len(names), lacking[0])
	}
	return all, missing
}

// eachSet gets sets one after the other and hands on their folders.
func (g Given) eachSet(ctx context.Context, all []data.Recipe,
	use func(r data.Recipe, dir string) error) error {
	for _, r := range all {
		dir, err := g.Sets.Get(ctx, r)
		if err == nil {
			err = use(r, dir)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// eachTiers prints the tiers of sets, each under its name.
func (g Given) eachTiers(all []data.Recipe, onset float64) func(context.Context, io.Writer) error {
	return func(ctx context.Context, w io.Writer) error {
		return g.eachSet(ctx, all, func(r data.Recipe, dir string) error {
			fmt.Fprintf(w, "\n%s\n\n", r.Name)
			return tiers(dir, onset)(ctx, w)
		})
	}
}

// making are the command lines of sets and of what is done with them.
func making(all []data.Recipe, then string) (commands []string) {
	for _, r := range all {
		commands, then = append(commands, r.Command()), then+" "+r.Name
	}
	return append(commands, then)
}

func hardSet(g Given) Section {
	all, missing := g.sets("hard-99")
	return Section{
		Title: "Hard set, seed 99",
		About: "Made by other means than the ear's training data: another sound bank (TimGM6mb) and the\n" +
			"additive synthesizer of package render, other rooms and amplifiers, another phrase maker.\n" +
			"Means of tiers.",
		Commands: making(all, "blowdraw-lab measure --tiers"), Missing: missing,
		Table: func(ctx context.Context, w io.Writer) error {
			return g.eachSet(ctx, all, func(_ data.Recipe, dir string) error { return tiers(dir, usual)(ctx, w) })
		},
	}
}

func playedSets(g Given) Section {
	all, missing := g.sets("played-701", "played-702", "played-703")
	return Section{
		Title:    "Marks, on clips with ornaments",
		About:    "tongued and legato: every place where the breath goes on, not only what is marked.",
		Commands: making(all, "blowdraw-lab measure --tiers"), Missing: missing,
		Table: g.eachTiers(all, usual),
	}
}

func songSets(g Given) Section {
	var names []string
	for _, r := range data.All() {
		if r.Clips == nil || r.Clips.Kind != clips.SongSet {
			continue
		}
		for _, seed := range data.JudgedSeeds() {
			if r.Clips.Seed == seed {
				names = append(names, r.Name)
			}
		}
	}
	all, missing := g.sets(names...)
	return Section{
		Title: "Songs with a band",
		About: "Songs of several kinds, by seed, with a band of TimGM6mb. playing: share of the time over which\n" +
			"truth and transcription agree whether the harp plays; false: events a minute of confidence\n" +
			"over 0.5 while none does.",
		Commands: making(all, "blowdraw-lab measure --folders"), Missing: missing,
		Table: func(ctx context.Context, w io.Writer) error {
			measure.PrintFolderHead(w)
			return g.eachSet(ctx, all, func(r data.Recipe, dir string) error {
				songs, err := measure.Folder(ctx, dir, measure.Options{Ear: "learned", Onset: usual})
				if err == nil {
					measure.PrintFolder(w, r.Name, songs)
				}
				return err
			})
		},
	}
}

func real(g Given) Section {
	s := Section{
		Title:    "Real recordings",
		About:    "Solo recordings, annotated by hand.",
		Commands: []string{"blowdraw-lab measure --real --sound SOUND REAL"},
		Table: func(ctx context.Context, w io.Writer) error {
			all, err := measure.Real(ctx, g.Real, measure.Options{Ear: "learned", Sound: g.Sound})
			if err == nil {
				measure.PrintReal(w, all)
			}
			return err
		},
	}
	if g.Real == "" {
		s.Missing = "no folder of annotated recordings is given"
	}
	return s
}

// playersUnder is of the same recordings over recorded bands, which it puts under them.
func playersUnder(g Given) Section {
	const name = "players-under"
	s := Section{
		Title: "The same recordings over recorded bands",
		About: "Real recordings with excerpts of recorded music and speech under them, the harp as loud\n" +
			"(band0) and about 3, 6 and 10 dB louder.",
		Commands: []string{data.PlayersCommand(name), "blowdraw-lab measure --real " + name},
		Table: func(ctx context.Context, w io.Writer) error {
			dir, err := os.MkdirTemp("", "players-under-*")
			if err != nil {
				return fmt.Errorf("making a folder for recordings: %w", err)
			}
			defer os.RemoveAll(dir)
			if err := g.Sets.PlayersUnder(ctx, g.Real, g.Sound, dir); err != nil {
				return err
			}
			all, err := measure.Real(ctx, dir, measure.Options{Ear: "learned"})
			if err == nil {
				measure.PrintRealTiers(w, all)
			}
			return err
		},
	}
	switch {
	case g.Real == "":
		s.Missing = "no folder of annotated recordings is given"
	case !g.Sets.HasRecorded(data.PlayersUnder()):
		s.Missing = "recorded sound is not there (pitch/ear/train/README.md says how to pack it)"
	}
	return s
}

// recordedSets are made harps over recorded bands, with rests, and recorded sound without a harp.
func recordedSets(g Given) Section {
	all, missing := g.sets("judged-under", "judged-rests", "judged-none")
	return Section{
		Title: "Made harps over recorded sound, and no harp",
		About: "The hard set of seed 99 over excerpts of recorded music and speech; players who rest for ten\n" +
			"seconds and more; and such excerpts without any harp, half of them as they come by telephone.\n" +
			"extra: events written a minute of such rest; sure ex: those of them that are not in doubt.",
		Commands: making(all, "blowdraw-lab measure --onset 0.1 --tiers"), Missing: missing,
		Table: g.eachTiers(all, wide),
	}
}

func positionSet(g Given) Section {
	all, missing := g.sets("positions-1234")
	return Section{
		Title: "Which harp, in three positions",
		About: "72 rendered performances in all twelve keys and positions 1 to 3. key: the song's key is right;\n" +
			"a player alone says little about it.",
		Commands: making(all, "blowdraw-lab measure --harps --tiers"), Missing: missing,
		Table: func(ctx context.Context, w io.Writer) error {
			return g.eachSet(ctx, all, func(_ data.Recipe,
				dir string) error {
				return measure.Harps(ctx, w, dir, true)
			})
		},
	}
}

func yardsticks(g Given) Section {
	s := Section{
		Title: "Beside aubio's programs",
		About: "What one would script with aubio's programs instead, on the bench; blowdraw is told the harp,\n" +
			"aubio's programs run with default settings, aubionotes' notes moved 65 ms earlier.",
		Commands: []string{"blowdraw-lab measure --yardsticks BENCH"},
		Table: func(ctx context.Context, w io.Writer) error {
			return measure.Yardsticks(ctx, w, g.Bench, latency, usual)
		},
	}
	switch {
	case g.Bench == "":
		s.Missing = "no folder of the bench is given"
	case !g.Aubio:
		s.Missing = "aubio's programs are not asked for (--aubio)"
	}
	return s
}

// logs writes what tests log that the go command is run with.
func (g Given) logs(args []string) func(context.Context, io.Writer) error {
	return func(ctx context.Context, w io.Writer) error {
		out, err := g.goes(ctx, args)
		if err == nil {
			fmt.Fprint(w, logged(out))
		}
		return err
	}
}

const notSlow = "go test is not asked for (--slow)"

func pairs(g Given) Section {
	args := []string{"test", "-count", "1", "-v", "-run", "TestPairs", "./tabber/evidence"}
	s := Section{
		Title: "One reed or two",
		About: "Each reed alone and both together, weaker by 0 to 12 dB, in tune or 3 cents off, dry, in a\n" +
			"hall and overdriven; right: exactly the holes.",
		Commands: []string{"go " + strings.Join(args, " ")},
		Table:    g.logs(args),
	}
	if !g.Slow {
		s.Missing = notSlow
	}
	return s
}

func speed(g Given) Section {
	s := Section{
		Title: "Speed",
		About: "On one core and, where a name ends in -2, on two.",
		Commands: []string{ // each by itself: with -cpu 1,2 both passes are those of two
			"go test -run '^$' -bench 'Transcribe|Stages|Section/learned' -cpu 1 ./tabber",
			"go test -run '^$' -bench 'Transcribe|Stages|Section/learned' -cpu 2 ./tabber",
		},
		Table: func(ctx context.Context, w io.Writer) error {
			for _, cores := range []string{"1", "2"} {
				out, err := g.goes(ctx, []string{"test", "-run", "^$", "-bench",
					"Transcribe|Stages|Section/learned", "-cpu", cores, "./tabber"})
				for line := range strings.Lines(out) {
					if strings.HasPrefix(line, "Benchmark") || strings.HasPrefix(line, "cpu:") {
						fmt.Fprint(w, line)
					}
				}
				if err != nil {
					return err
				}
			}
			return nil
		},
	}
	if !g.Slow {
		s.Missing = notSlow
	}
	return s
}

const notHours = "what takes hours is not asked for (--hours)"

// hours is a section of what long tests of the program log.
func hours(g Given, title, about, tests string, flags ...string) Section {
	args := append([]string{"test", "-count", "1", "-v", "-tags", "long", "-timeout", "8h", "-run", tests,
		"./cmd/blowdraw", "-args"}, flags...)
	s := Section{
		Title: title, About: about,
		Commands: []string{"go test -v -tags long -timeout 8h -run '" + tests + "' ./cmd/blowdraw -args " +
			strings.Join(flags, " ")},
		Table: g.logs(args),
	}
	if !g.Hours {
		s.Missing = notHours
	}
	return s
}

func faults(g Given) Section {
	return hours(g, "Faults",
		"Programs killed at random moments, half of them just when they make a file; the size that a file\n"+
			"may have ending at any byte; two runs at once; recordings that change while they are heard.\n"+
			"After each every file was the old one or the new one in whole and the next run went on, or the\n"+
			"test would have failed.",
		"Killed$|FileSizeLimit|TwoRuns|RecordingChanges", "-faults", "350")
}

func load(g Given) Section {
	return hours(g, "Load",
		"peak: the most memory of the program (VmHWM), of at most 140 MiB for each recording heard at a\n"+
			"time. stopped within: from Ctrl-C to its end. Names have a character of every Unicode block.",
		"TestLoad", "-recordings", "1000", "-minutes", "180")
}

func fuzzed(g Given) Section {
	const long = 5 * time.Minute
	s := Section{
		Title:    "Fuzzing",
		About:    "On one worker. new: inputs that reached code as none before did.",
		Commands: []string{"blowdraw-lab fuzz --for " + long.String()},
		Table: func(ctx context.Context, w io.Writer) error {
			list, err := fuzzing.Targets(g.Sets.Root)
			if err != nil {
				return err
			}
			return fuzzing.Print(ctx, w, g.Sets.Root, list, long)
		},
	}
	if !g.Hours {
		s.Missing = notHours
	}
	return s
}

// goes is what the go command writes in the repository.
func (g Given) goes(ctx context.Context, args []string) (string, error) {
	run := exec.CommandContext(ctx, "go", args...)
	run.Dir = g.Sets.Root
	out, err := run.CombinedOutput()
	if err != nil {
		return string(out), fmt.Errorf("running go %s: %w: %s", strings.Join(args, " "), err, out)
	}
	return string(out), nil
}

var logLine = regexp.MustCompile(`^\s+\w+_test\.go:\d+: (.*\n)`)

// logged is what a test of go test -v logs.
func logged(out string) string {
	var b strings.Builder
	for line := range strings.Lines(out) {
		if m := logLine.FindStringSubmatch(line); m != nil {
			b.WriteString(m[1])
		}
	}
	return b.String()
}
