package tab

import (
	"errors"
	"math/rand"
	"strings"
	"testing"
)

// Doubts as hands write them, below 0:01 0.3 -4 on a C harp in G: how each is written again,
// or what is said.
func TestDoubtText(t *testing.T) {
	for _, c := range []struct{ in, want, say string }{
		{"4 ?", "? 50%", ""},
		{"4 ? perhaps not the harp", "? 50%, perhaps not the harp", ""},
		{"4 ? or -3 20%", "? 50%, or -3 20%", ""},
		{"4 ? or -3", "? 50%, or -3", ""},
		{"4 ? starts earlier", "? 50%, starts earlier", ""},
		{"4 ?starts earlier", "? 50%, starts earlier", ""},
		{"4 ? 60% Starts  Earlier", "? 60%, starts earlier", ""},
		{"4 ? 62%, which hole, how far bent, or -3'' 25%, 3 10%",
			"? 62%, which hole, how far bent, or -3'' 25%, 3 10%", ""},
		{"4 ? or -3'' 25% or 3", "? 50%, or -3'' 25%, 3", ""},
		{"4 ? or [-4, -5] 5%, blow or draw", "? 50%, blow or draw, or [-4 -5] 5%", ""},
		{"4 ? 62%, one reed or two, or [4 5] 30%", "? 62%, one reed or two, or [4 5] 30%", ""},
		{"4 ? hole, bend, breath, reeds, start, end, harp",
			"? 50%, which hole, how far bent, blow or draw, how many reeds, when it starts, when it ends, perhaps " +
				"not the harp", ""},
		{"4 ? hole, hole,", "? 50%, which hole", ""},
		{"4 ? 90%", "? 90%, unsure", ""},
		{"4 ? 100%", "? 99%, unsure", ""},
		{"4 ? 99%, or rest", "? 99%, unsure, or rest", ""},
		{"4 ? 85%, or rest 15%", "? 85%, or rest 15%", ""},
		{"4 checked", "checked", ""},
		{"4 !", "checked", ""},
		{"4 scoop ! ? 40%", "checked ? 40%", ""},
		{"4 Checked scoop", "checked", ""},
		{"{B4 A5}", "? nearest -3 for B4, -6 for A5", ""},
		{"{Bb4+30}", "? nearest -3'", ""},
		{"{Bb4+30} ? 97%, perhaps not the harp, nearest -3'", "? perhaps not the harp, nearest -3'", ""},
		{"{Bb4+30} ? 100%, nearest 6o, rest 3%", "? nearest 6o, rest 3%", ""},
		{"{Bb4} ? 40%", "? 40%, nearest -3'", ""},
		{"{B4 A5} ? nearest -7 for B4, -10 for A5", "? nearest -7 for B4, -10 for A5", ""},
		{"4 ? most", "", "\"most\" is no doubt; want or before another reading"},
		{"4 ? -3 20%", "", "\"-3 20%\" is no doubt; want or before another reading"},
		{"4 ? or", "", "\"\" is not a reading"},
		{"4 ? or -3 20", "", "\"-3 20\" is not a reading"},
		{"4 ? or -9''", "", "-9''"},
		{"4 ? or 3 for B4+10", "", "\"B4+10\" is not a note"},
		{"4 ? 200%", "", "not a share"},
		{"4 ? 60% scoop", "", "\"scoop\" is no doubt"},
	} {
		const head = "blowdraw tab 1\nharp: C\nsong: G\n0:01 0.3 -4\n"
		d, err := Parse(strings.NewReader(head + c.in + "\n"))
		reprint(t, head+c.in+"\n")
		var mistakes Errors
		if errors.As(err, &mistakes); c.say != "" {
			if len(mistakes) != 1 || mistakes[0].Line != 5 || !strings.Contains(mistakes[0].Text, c.say) {
				t.Errorf("%q: %v; want %q", c.in, err, c.say)
			}
			continue
		}
		if err != nil || len(d.Events) != 2 {
			t.Errorf("%q: %v", c.in, err)
			continue
		}
		if got := d.doubtColumn(d.Events[1]); got != c.want {
			t.Errorf("%q: written %q, want %q", c.in, got, c.want)
		}
	}
}

// What is checked is counted, by events and by phrases.
func TestSeen(t *testing.T) {
	d := mustParse(t, "blowdraw tab 1\nharp: C\nsong: G\nPhrase 1 0:01 to 0:02 checked\n0:01 0.5 -4\n-3\n"+
		"Phrase 2 0:03 to 0:04 1.0 s\n0:03 0.25 4 !\n-4 checked -3\n")
	if got, want := d.Seen(), (Seen{4, 5, 1.5, 1.75}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
	written := text(t, d)
	if !strings.Contains(written, "1.0 s  checked\n") || text(t, mustParse(t, written)) != written {
		t.Errorf("written as\n%s", written)
	}
}

// Whatever stands on a line, each word of it is in the document or told, and the document
// reads back as it is written.
func FuzzDoubt(f *testing.F) {
	for _, s := range []string{
		"4 ? 62%, which hole, or [-2 -3] 20% or 2, one reed or two", "{B4 A5} ? nearest -7 for B4, -10 for A5 3%",
		"0:02 0.3 -4 scoop checked ? 90%", "-4 ! -3 checked", "Phrase 1 0:02 to 0:03 1.0 s !", "4 ? or",
		"-4 ?Blow  or draw,, hole # mine", "{C4+30} ? 100%, perhaps not the harp, nearest 6o",
		"4 ? or rest 5%, start", "-3 ? 9%, perhaps held over", "4 ? or 3 for Bb4 100%", "+4 ? 0%, or 4", "4? 3", "? 4", "checked",
		"! 4", "4 !? 3",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, line string) {
		line = line[:min(len(line), mostLine)]
		s := "blowdraw tab 1\nharp: C\nsong: G\n0:01 0.3 -4\n" + line + "\n"
		reprint(t, s)
	})
}

// pieces are what lines with doubts are made of.
var pieces = strings.Split(
	"4|-4|-3''|[-4 -5]|{B4 A5}|{Bb4+30}|?|? |? |? 62%|? 100%|?9%|,|, | or | or |nearest| for | for B4|"+
		"20%|0%|rest|which hole|how far bent|blow or draw|one reed or two|how many reeds|starts earlier|Starts  Later|"+
		"when it starts|ends earlier|ends later|when it ends|perhaps held over|perhaps nothing|perhaps not the harp|"+
		"unsure|hole|bend|breath|reeds|start|end|harp|checked|!|scoop|+30c|# mine|0:02 |0:02 0.3 |Phrase 2 |Phrase |b3|5| |  |"+
		"0:01 to 0:03|1.0 s|6o|[1 4|x",
	"|",
)

// Lines put together by chance: nothing is lost, and what is read is written so that it
// reads the same.
func TestDoubtRandom(t *testing.T) {
	const lines = 3000
	r := rand.New(rand.NewSource(1))
	for k := range lines {
		line := ""
		for range 1 + r.Intn(9) {
			line += pieces[r.Intn(len(pieces))]
			if r.Intn(3) > 0 {
				line += " "
			}
		}
		s := "blowdraw tab 1\nharp: C\nsong: G\n0:01 0.3 -4\n" + line + "\n"
		reprint(t, s)
		if t.Failed() {
			t.Fatalf("line %d, %q", k, line)
		}
	}
}
