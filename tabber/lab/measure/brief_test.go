package measure

import (
	"math"
	"strings"
	"testing"

	"blowdraw/tabber/lab/score"
)

// of is a clip with these shares of right notes and events; NaN where it does not apply.
func of(tier string, noteF, tabF float64, slaps score.MarkScore) Clip {
	nan := math.NaN()
	c := Clip{Tier: tier, Measures: score.Measures{
		NoteF: noteF, TabF: tabF, OffsetF: nan, TextureF: nan, Splits: nan, PhraseF: nan, Tempo: nan, Tuning: nan,
		SureRight: nan, SureShare: nan, Bars: nan, Barred: nan, Grid: nan, Playing: nan, Level: nan,
		Extra: nan, ExtraSure: nan,
	}}
	c.marks[2] = slaps
	return c
}

// Means by hand, of the clips that have a measure; of marks the counts are added up first.
func TestPrintTiers(t *testing.T) {
	var b strings.Builder
	PrintTiers(&b, []Clip{
		of("dry", 0.5, 0.25, score.MarkScore{Found: 1, Ref: 2, Est: 1}),
		of("dry", 1, math.NaN(), score.MarkScore{Found: 1, Ref: 1, Est: 2}),
		of("amp", 0.3, 0.75, score.MarkScore{Est: 1}),
	})
	for _, want := range []string{
		"                     dry       amp       all\n",
		"clips                  2         1         3\n",
		"noteF              0.750     0.300     0.600\n",
		"tabF               0.250     0.750     0.500\n",
		"F of marks           dry       amp       all precision  recall    of\n",
		// Dry: 2 found of 3 true and 3 written; all: of 3 and 4.
		"slap               0.667         -     0.571     0.500   0.667     3\n",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no line %q in\n%s", want, b.String())
		}
	}
	for _, not := range []string{"scoop", "offF"} {
		if strings.Contains(b.String(), not) {
			t.Errorf("%s, which does not occur:\n%s", not, b.String())
		}
	}
}

func TestPrintFolder(t *testing.T) {
	var b strings.Builder
	PrintFolderHead(&b)
	PrintFolder(&b, "worn-99", []Clip{of("worn", 1, 0.5, score.MarkScore{}),
		of("worn", 0.5, 0.5, score.MarkScore{})})
	want := "folder                 clips   noteF    tabF    phrF playing harp dB   extra\n" +
		"worn-99                    2   0.750   0.500       -       -       -       -\n"
	if b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
}

// Tiers and all of two recordings, of which only one is right, without the recordings' own lines.
func TestPrintRealTiers(t *testing.T) {
	var b strings.Builder
	PrintRealTiers(&b, []Annotated{
		{Name: "x", Tier: "near", Agreement: score.Agreement{Events: 1, Agreed: 1, AgreedFound: 1}},
		{Name: "y", Tier: "far", Agreement: score.Agreement{Events: 1, Agreed: 1}},
	})
	for _, want := range []string{
		"tier  ",
		"near (1)                   1       1   1.000",
		"far (1)                    1       1   0.000",
		"all (2)                    2       2   0.500",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	if strings.Contains(b.String(), "\nx ") {
		t.Errorf("a recording's own line:\n%s", b.String())
	}
}
