package study_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/lab/solos"
	"blowdraw/tabber/retab"
	"blowdraw/tabber/study"
	"blowdraw/tabber/tab"
)

var kit = solos.Kit{Harp: "C", Position: 2, BPM: 96, Choruses: 3}

func made(t testing.TB, seed uint64, k solos.Kit, p solos.Player) tab.Document {
	t.Helper()
	d, err := solos.Solo(seed, k, p)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// beyond are the measures that are said to be more, or less, than chance.
func beyond(list []study.Measure) (out []string) {
	for _, m := range list {
		if m.Beyond() {
			way := "less"
			if m.Value > *m.Expected {
				way = "more"
			}
			out = append(out, fmt.Sprintf("%s %s over %s", way, m.Name, m.Over))
		}
	}
	return out
}

// families are the measures of a study that are tested together: of each, one study in
// twenty may call chance a finding.
func families(s study.Study) map[string][]string {
	out := map[string][]string{
		"degrees over chords": beyond(s.Notes.Shares), "textures over chords": beyond(s.Textures.Shares),
		"phrase ends": beyond(s.Notes.Ends), "full": beyond(s.Time.Full), "rough by bar": beyond(s.Textures.Bars),
		"changes": beyond(s.Textures.Changes),
	}
	for _, a := range s.Answers {
		out["answers"] = append(out["answers"], fmt.Sprint(a.Of, " ", a.Phrase, " ", a.Likes))
	}
	for _, m := range s.Moves {
		out["moves"] = append(out["moves"], m.Tab)
	}
	if p := s.Time.BeginsP; p != nil && *p < study.Sure {
		out["begins"] = []string{"uneven"}
	}
	if p := s.Time.EndsP; p != nil && *p < study.Sure {
		out["phrase ends in the bar"] = []string{"uneven"}
	}
	if b := s.Time.Beat; b != nil && b.Beyond() {
		out["late"] = []string{fmt.Sprint(b.Value)}
	}
	return out
}

// Random solos are told as chance: of each family of tests no more studies than chance
// brings have a finding. The bound is the count that chance exceeds once in a thousand.
func TestRandomIsChance(t *testing.T) {
	const studies = 24
	found := map[string]int{}
	for seed := range uint64(studies) {
		k := kit
		k.Choruses = 2 + int(seed%4)
		d := made(t, 1000+seed, k, solos.Player{Rough: []solos.Rough{{
			Bars: []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, Chance: 0.25,
		}}})
		for name, list := range families(study.Of([]tab.Document{d})) {
			if len(list) > 0 {
				found[name]++
				t.Logf("%d choruses, %s: %s", k.Choruses, name, list)
			}
		}
	}
	bound := 0
	law := study.PoissonBinomial(slices.Repeat([]float64{study.Sure}, studies))
	for above := 1.0; above > 0.001; bound++ {
		above -= law[bound]
	}
	for name, n := range found {
		t.Logf("%s: %d of %d studies", name, n, studies)
		if n > bound {
			t.Errorf("%s: chance is called a finding in %d of %d studies; want at most %d", name, n, studies, bound)
		}
	}
}

// planted is a player with a known vocabulary.
var planted = solos.Player{
	Lean:  []solos.Lean{{Chord: "IV", Degree: "b7", Times: 12}, {Chord: "V", Degree: "5", Times: 20}},
	Rough: []solos.Rough{{Bars: []int{1, 2}, Chance: 0.9}},
	Moves: []solos.Move{
		{
			Notes: []string{"-2", "-3'", "4", "-4'", "4"}, Beats: []float64{0, 0.667, 1, 1.667, 2},
			Bars: []int{3, 7}, Chance: 0.8,
		},
		{
			Notes: []string{"-5", "-4", "-4'", "-3", "-2"}, Beats: []float64{0, 0.667, 1, 2, 2.667},
			Bars: []int{11}, Chance: 0.8,
		},
	},
	Answers: 0.5,
}

// What was planted is found, in each kind, in more than the given share of solos.
func TestPlantedIsFound(t *testing.T) {
	const studies = 10
	checks := []struct {
		name  string
		least int // of the studies
		in    func(study.Study) bool
	}{
		{"b7 leans on IV", 6, func(s study.Study) bool {
			return slices.Contains(beyond(s.Notes.Shares), "more b7 over IV")
		}},
		{"5 leans on V", 3, func(s study.Study) bool {
			return slices.Contains(beyond(s.Notes.Shares), "more 5 over V")
		}},
		{"rough over I", 6, func(s study.Study) bool {
			return slices.Contains(beyond(s.Textures.Shares), "more double stop over I")
		}},
		{"rough in bars 1 and 2", 6, func(s study.Study) bool {
			list := beyond(s.Textures.Bars)
			return slices.Contains(list, "more rough over bar 1") || slices.Contains(list, "more rough over bar 2")
		}},
		{"both moves", 6, func(s study.Study) bool {
			return hasMove(s, "-2 -3' 4 -4'") && hasMove(s, "-5 -4 -4' -3")
		}},
		{"a move keeps to bar 11", 6, func(s study.Study) bool {
			return slices.ContainsFunc(s.Moves, func(m study.Move) bool {
				return m.Where != nil && m.Where.Over == "bar 11" && m.Where.Beyond()
			})
		}},
		{"answers", 6, func(s study.Study) bool {
			return slices.ContainsFunc(s.Answers, func(a study.Answer) bool {
				return slices.ContainsFunc(a.Likes, func(l study.Like) bool { return l.What == study.Beginning })
			})
		}},
	}
	found := make([]int, len(checks))
	for seed := range uint64(studies) {
		k := kit
		k.Choruses = 6
		s := study.Of([]tab.Document{made(t, seed, k, planted)})
		for i, c := range checks {
			if c.in(s) {
				found[i]++
			}
		}
	}
	for i, c := range checks {
		t.Logf("%s: found in %d of %d", c.name, found[i], studies)
		if found[i] < c.least {
			t.Errorf("%s: found in %d of %d studies, want %d", c.name, found[i], studies, c.least)
		}
	}
}

// hasMove reports whether a study has a move that holds a line.
func hasMove(s study.Study, line string) bool {
	return slices.ContainsFunc(s.Moves, func(m study.Move) bool { return strings.Contains(m.Tab, line) })
}

// The moves of one player on three harps, one of them in another position, are one move:
// found together where each solo alone may be too short for it.
func TestMovesAcrossHarps(t *testing.T) {
	line := []string{"-2", "-3'", "4", "-4'", "4"}

	beats := []float64{0, 0.667, 1, 1.667, 2}
	var tabs []tab.Document
	for i, x := range []struct {
		kit   solos.Kit
		notes []string
	}{
		{solos.Kit{Harp: "C", Position: 2, BPM: 96, Choruses: 1}, line},
		{solos.Kit{Harp: "low F", Position: 2, BPM: 120, Choruses: 1}, line},
		{solos.Kit{Harp: "A", Position: 3, BPM: 84, Choruses: 1}, nil},
	} {
		p := solos.Player{Moves: []solos.Move{{Notes: x.notes, Beats: beats, Bars: []int{3, 7}, Chance: 1}}}
		if i == 2 {
			p.Moves[0].Notes = thirdPosition(t, x.kit, line)
		}
		tabs = append(tabs, made(t, uint64(50+i), x.kit, p))
	}
	s := study.Of(tabs)
	for _, m := range s.Moves {
		seen := map[int]bool{}
		for _, x := range m.Times {
			seen[x.Solo] = true
		}
		if strings.HasPrefix(m.Degrees, "1 b3 4 b5 4") && len(seen) == 3 {
			return
		}
		t.Logf("%s, %s: %v", m.Degrees, m.Tab, m.Times)
	}
	t.Error("the move is not found in all three solos")
}

// thirdPosition are the degrees of a line of second position on a C harp, played on the
// harp of a kit in its position.
func thirdPosition(t *testing.T, k solos.Kit, line []string) []string {
	t.Helper()
	c := made(t, 1, solos.Kit{Harp: "C", Position: 2, BPM: 96, Choruses: 1}, solos.Player{})
	to := made(t, 1, solos.Kit{Harp: k.Harp, Position: k.Position, BPM: 96, Choruses: 1}, solos.Player{})
	c.Events, c.Phrases = nil, nil
	for i, token := range line {
		a, err := tab.ParseToken(c.Harp, token)
		if err != nil {
			t.Fatal(err)
		}
		c.Events = append(c.Events, tab.Event{Start: float64(i), End: float64(i) + 0.5, Actions: a, Confidence: 1})
	}
	d, flags := retab.Music(c, to.Harp, to.SongKey, false)
	if len(flags) > 0 {
		t.Fatalf("the harp lacks %v", flags)
	}
	var out []string
	for _, e := range d.Events {
		out = append(out, tab.Token(e.Actions))
	}
	return out
}

// Doubt makes statements vague, not wrong: of the same solos with much of the probability
// elsewhere, and that much wrong, less is found, and what is found is what was planted.
func TestDoubtIsVague(t *testing.T) {
	sure, doubtful, wrong := 0, 0, 0
	for seed := range uint64(6) {
		p := planted
		p.Moves, p.Rough = nil, nil
		k := kit
		k.Choruses = 6
		a := study.Of([]tab.Document{made(t, seed, k, p)})
		p.Doubt = 0.6
		b := study.Of([]tab.Document{made(t, seed, k, p)})
		if a.Summary.Known < 0.99 || math.Abs(b.Summary.Known-0.4) > 0.01 {
			t.Errorf("known: %g and %g, want 1 and 0.4", a.Summary.Known, b.Summary.Known)
		}
		sure += len(beyond(a.Notes.Shares))
		for _, m := range beyond(b.Notes.Shares) {
			doubtful++
			if m != "more b7 over IV" && m != "more 5 over V" && strings.HasPrefix(m, "more") {
				wrong++
			}
		}
	}
	t.Logf("findings: %d if sure, %d in doubt, %d of them wrong", sure, doubtful, wrong)
	if doubtful > sure || wrong > 1 {
		t.Errorf("%d findings if sure, %d in doubt, %d of them wrong", sure, doubtful, wrong)
	}
}

// Of solos that another generator makes up, of random phrases of eight kinds of players and
// without bars, answers and moves are told in no more than chance brings.
func TestRandomPhrasesDoNotAnswer(t *testing.T) {
	const studies = 32
	answers, moves := 0, 0
	for _, s := range clips.Solos(77, studies, 90, false) {
		x := study.Of([]tab.Document{s.Document()})
		if x.Summary.Short {
			t.Fatalf("%s: too short, %g bars", s.Name, x.Summary.Bars)
		}
		if len(x.Answers) > 0 {
			answers++
			t.Logf("%s: %d phrases, %+v", s.Category, x.Summary.Phrases, x.Answers[0].Likes)
		}
		if len(x.Moves) > 0 {
			moves++
		}
	}
	t.Logf("answers in %d, moves in %d of %d studies", answers, moves, studies)
	if answers > 6 || moves > 6 { // by chance more than 6 of 32 less than one time in 1000
		t.Errorf("answers in %d, moves in %d of %d studies, by chance in 1.6", answers, moves, studies)
	}
}

// Two random players do not differ, by more than chance brings; a rough one and a smooth
// one do, in what was planted.
func TestBeside(t *testing.T) {
	const pairs = 8
	k := kit
	k.Choruses = 4
	differ := 0
	for seed := range uint64(pairs) {
		p := solos.Player{Rough: []solos.Rough{{Bars: []int{1, 2, 3, 4, 5, 6}, Chance: 0.3}}}
		x := study.Compare([]tab.Document{made(t, 300+seed, k, p)}, []tab.Document{made(t, 400+seed, k, p)})
		if slices.ContainsFunc(x.Differences, study.Difference.Beyond) {
			differ++
		}
	}
	t.Logf("random players differ in %d of %d pairs", differ, pairs)
	if differ > 3 { // by chance more than 3 of 8 one time in 2700
		t.Errorf("random players differ in %d of %d pairs", differ, pairs)
	}
	rough := solos.Player{Rough: []solos.Rough{{
		Bars: []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, Chance: 0.5,
	}}}
	found := 0
	for seed := range uint64(3) {
		x := study.Compare([]tab.Document{made(t, 500+seed, k, rough)},
			[]tab.Document{made(t, 600+seed, k, solos.Player{})})
		for _, d := range x.Differences {
			if d.Beyond() && d.Name == study.Double && d.A > d.B && len(d.PlacesA) > 0 {
				found++
			}
		}
	}
	t.Logf("the rough player is told in %d of 3", found)
	if found < 2 {
		t.Errorf("the rough player is told in %d of 3", found)
	}
}

// A short solo is counted and not judged.
func TestShort(t *testing.T) {
	k := kit
	k.Choruses = 1
	s := study.Of([]tab.Document{made(t, 5, k, planted)})
	if !s.Summary.Short || len(s.Moves)+len(s.Answers)+len(s.Notes.Never) > 0 {
		t.Errorf("short %v: %d moves, %d answers, %d never", s.Summary.Short, len(s.Moves), len(s.Answers),
			len(s.Notes.Never))
	}
	for _, r := range study.Rows(s) {
		if r.P != nil {
			t.Errorf("%s over %q has p %g", r.Name, r.Over, *r.P)
		}
	}
	if len(s.Notes.Shares) == 0 || len(s.Time.Lengths) == 0 {
		t.Error("nothing is counted")
	}
}

// Nothing, and a tab with neither tempo nor bars, are no trouble.
func TestLittle(t *testing.T) {
	if s := study.Of([]tab.Document{{}}); s.Summary.Events != 0 || !s.Summary.Short {
		t.Errorf("nothing: %+v", s.Summary)
	}
	d := made(t, 3, kit, planted)
	d.Bars, d.BPM, d.Form = nil, 0, ""
	s := study.Of([]tab.Document{d})
	if !s.Summary.Guessed || s.Summary.Short || s.Time.Lengths[0].Unit != study.Seconds {
		t.Errorf("without tempo: %+v", s.Summary)
	}
	twice := study.Of([]tab.Document{d})
	if !reflect.DeepEqual(s, twice) {
		t.Error("a second study of the same solo is another")
	}
}
