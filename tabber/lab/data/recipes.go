// Package data has the sets of clips that models are fitted to and judged on: how each is
// made, and a folder that keeps those that were made.
package data

import (
	"fmt"
	"strings"

	"blowdraw/tabber/lab/clips"
)

// Recipe says how a set of clips is made: by package clips, or by the program that makes
// the ear's training data. One of the two is set.
type Recipe struct {
	Name  string
	Clips *clips.Set `json:",omitempty"`
	Train *Train     `json:",omitempty"`
}

// Train is what pitch/ear/train/clips.py is told: to make so many performances for each
// of its tiers, or to put bands under the clips of another set.
type Train struct {
	Seed   int64
	Count  int    `json:",omitempty"` // clips a tier
	Under  string `json:",omitempty"` // name of the other set
	People bool   `json:",omitempty"` // as people play
	Paired bool   `json:",omitempty"` // the same with many double stops
	Rests  bool   `json:",omitempty"` // with rests of ten seconds and more
	Alone  bool   `json:",omitempty"` // no harp, only recorded sound

	// Recorded is the name of excerpts of recorded sound that take the place of bands,
	// NAME.json and NAME.ul in the folder that keeps the sets. They are not made by
	// recipe: pitch/ear/train/recorded.py makes them of sound that is not in the repository.
	Recorded string `json:",omitempty"`
}

// Command is the command line that makes the set in a folder of its name.
func (r Recipe) Command() string {
	if t := r.Train; t != nil {
		return "python3 " + strings.Join(t.args(t.Under, "", t.Recorded, r.Name), " ")
	}
	s := r.Clips
	words := []string{"blowdraw-lab make"}
	switch s.Kind {
	case clips.SongSet:
		words = append(words, "--songs", s.Song, fmt.Sprintf("--count %d", s.Count))
		if s.Bank != clips.BankPath {
			words = append(words, "--band", s.Bank)
		}
		if s.Reeds != clips.BankPath {
			words = append(words, "--reeds", s.Reeds)
		}
	case clips.HardSet:
	default:
		words = append(words, "--"+s.Kind)
		if s.Only != "" {
			words = append(words, "--only", string(s.Only))
		}
	}
	return strings.Join(append(words, fmt.Sprintf("--seed %d", s.Seed), r.Name), " ")
}

// args of python3, under being the folder of the other set, sound that of its recordings if
// they lie elsewhere, recorded the path of the excerpts.
func (t Train) args(under, sound, recorded, out string) []string {
	args := []string{"pitch/ear/train/clips.py"}
	switch {
	case t.Under != "":
		args = append(args, "--under", under)
		if sound != "" {
			args = append(args, "--sound", sound)
		}
	case t.Alone:
		args = append(args, "--alone")
	default:
		args = append(args, "--count", fmt.Sprint(t.Count))
	}
	if t.People {
		args = append(args, "--people")
	}
	if t.Paired {
		args = append(args, "--paired")
	}
	if t.Rests {
		args = append(args, "--rests")
	}
	if t.Recorded != "" {
		args = append(args, "--recorded", recorded)
	}
	return append(args, "--seed", fmt.Sprint(t.Seed), out)
}

// PlayersUnder are recordings of players over recorded bands of four levels. The recordings
// are no set: [Cache.PlayersUnder] is told where they lie.
func PlayersUnder() Train {
	return Train{Seed: 1700000511, Under: "REAL", Recorded: "recorded-judge"}
}

// PlayersCommand is the command line that makes [PlayersUnder], in a folder of that name.
func PlayersCommand(name string) string {
	t := PlayersUnder()
	return "python3 " + strings.Join(t.args(t.Under, "SOUND", t.Recorded, name), " ")
}

// Sound banks beside those of package clips, where Debian's packages
// musescore-general-soundfont, csound-soundfont and opl3-soundfont keep them.
const (
	museBank   = "/usr/share/sounds/sf3/MuseScore_General.sf3"
	csoundBank = "/usr/share/sounds/sf2/sf_GMbank.sf2"
	oplBank    = "/usr/share/sounds/sf2/OPL-3_FM_128M.sf2"
)

// All lists the recipes. Those of the fit and those that are judged have no seed in common.
func All() []Recipe {
	var all []Recipe
	set := func(name string, s clips.Set) {
		all = append(all, Recipe{Name: fmt.Sprintf("%s-%d", name, s.Seed), Clips: &s})
	}
	train := func(name string, t Train) { all = append(all, Recipe{Name: name, Train: &t}) }
	for _, seed := range []int64{1, 77, 4242, 8801, 99} {
		set("hard", clips.Set{Kind: clips.HardSet, Seed: seed})
	}
	for _, seed := range []int64{501, 502, 503, 504, 601, 602, 701, 702, 703} {
		set("played", clips.Set{Kind: clips.PlayedSet, Seed: seed})
	}
	for _, seed := range []int64{501, 1234} {
		set("positions", clips.Set{Kind: clips.PositionSet, Seed: seed})
	}
	set("octaves", clips.Set{Kind: clips.PairSet, Only: clips.Octaves, Seed: 1001})
	set("octaves", clips.Set{Kind: clips.PairSet, Only: clips.Octaves, Seed: 1002})
	set("doubles", clips.Set{Kind: clips.PairSet, Only: clips.Doubles, Seed: 1001})
	train("made", Train{Seed: 1000000007, Count: 20})
	train("made-few", Train{Seed: 1000000007, Count: 4})
	train("under-hard", Train{Seed: 1000000021, Under: "hard-4242"})
	train("under-octaves", Train{Seed: 1000000021, Under: "octaves-1002"})
	train("under-positions", Train{Seed: 1000000555, Under: "positions-501"})
	train("people", Train{Seed: 1700000011, Count: 10, People: true, Recorded: "recorded-fit"})
	train("paired", Train{Seed: 1700000203, Count: 5, Paired: true, Recorded: "recorded-fit"})
	train("rests", Train{Seed: 1700000101, Count: 10, People: true, Rests: true, Recorded: "recorded-fit"})
	train("under-recorded", Train{Seed: 1700000131, Under: "hard-1", Recorded: "recorded-fit"})
	train("judged-under", Train{Seed: 1700000503, Under: "hard-99", Recorded: "recorded-judge"})
	train("judged-rests", Train{Seed: 1700000507, Count: 6, People: true, Rests: true, Recorded: "recorded-judge"})
	train("judged-none", Train{Seed: 1700000509, Alone: true, Recorded: "recorded-judge"})
	return append(append(all, presenceSongs()...), judgedSongs()...)
}

func song(name, kind string, n int, seed int64, bank, reeds string) Recipe {
	return Recipe{Name: name, Clips: &clips.Set{Kind: clips.SongSet, Seed: seed, Song: kind, Count: n,
		Bank: bank, Reeds: reeds}}
}

// presenceSongs are those that package presence's models are fitted to: bands and soloists
// of other sound banks than those of [judgedSongs].
func presenceSongs() []Recipe {
	var out []Recipe
	add := func(kind string, n int, seed int64, bank, reeds string) {
		out = append(out, song(fmt.Sprintf("%s-%d", kind, seed), kind, n, seed, bank, reeds))
	}
	const own, fluid = clips.BankPath, clips.FluidBankPath
	for _, seed := range []int64{5001, 5002} {
		add("none", 6, seed, fluid, own)
		add("solo", 8, seed, fluid, own)
		add("answer", 6, seed, fluid, own)
		add("worn", 5, seed, fluid, own)
		add("lesson", 5, seed, fluid, own)
	}
	add("worn", 8, 5003, fluid, fluid)
	add("answer", 4, 5003, fluid, fluid)
	add("worn", 6, 5004, fluid, museBank)
	add("solo", 4, 5004, fluid, museBank)
	add("others", 8, 5005, fluid, own)
	add("others", 8, 5006, csoundBank, own)
	add("others", 6, 5007, oplBank, own)
	add("none", 8, 5007, csoundBank, own)
	add("solo", 6, 5007, csoundBank, own)
	add("worn", 6, 5008, csoundBank, csoundBank)
	add("answer", 4, 5008, csoundBank, csoundBank)
	return out
}

// JudgedSeeds are the seeds of the songs that results are told of.
func JudgedSeeds() []int64 { return []int64{99, 1001, 2002, 3003} }

// JudgedKinds are their kinds.
func JudgedKinds() []string {
	return []string{"solo", "answer", "worn", "lesson", "panned", "centred", "none", "others"}
}

// judgedSongs are those that results are told of.
func judgedSongs() []Recipe {
	count := map[string]int{"solo": 5, "answer": 4, "worn": 5, "lesson": 3, "panned": 6, "centred": 6,
		"none": 10, "others": 4}
	var out []Recipe
	for _, kind := range JudgedKinds() {
		for _, seed := range JudgedSeeds() {
			n := count[kind]
			switch early := seed < 2000; {
			case kind == "others" && early:
				continue
			case kind == "worn" && !early:
				n = 4
			case kind == "none" && !early:
				n = 8
			}
			out = append(out, song(fmt.Sprintf("%s-%d", kind, seed), kind, n, seed, clips.BankPath, clips.BankPath))
		}
	}
	return out
}

// Find the recipe of a name.
func Find(name string) (Recipe, error) {
	for _, r := range All() {
		if r.Name == name {
			return r, nil
		}
	}
	return Recipe{}, fmt.Errorf("no set of clips is called %q", name)
}
