package fit

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"blowdraw/tabber/lab/score"
)

// every is the name of the row of all cases.
const every = "every"

// Judged is a case with what a model says of it, and where it comes from.
type Judged struct {
	score.Verdict
	Tier string
}

// Halves splits cases by the number of the clip that they come from, even and odd.
func Halves[T any](cases []T, clip func(T) int) (halves [2][]T) {
	for _, c := range cases {
		halves[clip(c)%2] = append(halves[clip(c)%2], c)
	}
	return halves
}

// HeldOut judges each half of cases by the model fitted to the other one.
func HeldOut[T, M, J any](halves [2][]T, fit func([]T) M, judge func([]T, M) []J) []J {
	return append(judge(halves[0], fit(halves[1])), judge(halves[1], fit(halves[0]))...)
}

// byTier groups cases by tier and all of them as [every], and lists the groups' names.
func byTier[T any](cases []T, tiers func(T) []string) (map[string][]T, []string) {
	of := map[string][]T{}
	for _, c := range cases {
		for _, name := range append(tiers(c), every) {
			of[name] = append(of[name], c)
		}
	}
	return of, slices.Sorted(maps.Keys(of))
}

// PrintCalibration prints for each tier, all with a band, all without and every one: how
// many cases, the share that is right, of those with 0.9 or more said the share that is
// right (p90) and their share of all (c90), of those with 0.8 to 0.9 and 0.5 to 0.8 the
// share right, and the expected calibration error.
func PrintCalibration(w io.Writer, all []Judged) {
	fmt.Fprintf(w, "%-12s%8s%8s%8s%8s%8s%8s%8s\n", "tier", "events", "right", "p90", "c90", "p80", "p50", "ECE")
	of, names := byTier(all, func(j Judged) []string {
		if strings.HasPrefix(j.Tier, "band") {
			return []string{j.Tier, "all band"}
		}
		return []string{j.Tier, "all solo"}
	})
	for _, name := range names {
		cases := of[name]
		sure := Between(cases, 0.9, 2)
		fmt.Fprintf(w, "%-12s%8d", name, len(cases))
		for _, f := range []score.Figure{
			Right(cases), Right(sure), {N: float64(len(sure)), Of: float64(len(cases))},
			Right(Between(cases, 0.8, 0.9)), Right(Between(cases, 0.5, 0.8)),
		} {
			printShare(w, f)
		}
		fmt.Fprintf(w, "%8.3f\n", score.CalibrationError(verdicts(cases)))
	}
}

// PrintRight prints for each tier how many cases there are, the share that is right, and
// the expected calibration error.
func PrintRight(w io.Writer, all []Judged) {
	fmt.Fprintf(w, "%-12s%8s%8s%8s\n", "tier", "events", "right", "ECE")
	of, names := byTier(all, func(j Judged) []string { return []string{j.Tier} })
	for _, name := range names {
		fmt.Fprintf(w, "%-12s%8d", name, len(of[name]))
		printShare(w, Right(of[name]))
		fmt.Fprintf(w, "%8.3f\n", score.CalibrationError(verdicts(of[name])))
	}
}

func printShare(w io.Writer, f score.Figure) {
	if v, ok := f.Value(); ok {
		fmt.Fprintf(w, "%8.3f", v)
		return
	}
	fmt.Fprintf(w, "%8s", "-")
}

func verdicts(all []Judged) []score.Verdict {
	out := make([]score.Verdict, len(all))
	for i, j := range all {
		out[i] = j.Verdict
	}
	return out
}

// Between are the cases of which at least low, and less than high, is said.
func Between(all []Judged, low, high float64) []Judged {
	return slices.DeleteFunc(slices.Clone(all), func(j Judged) bool { return j.Said < low || j.Said >= high })
}

// Right is the share of cases that are.
func Right(all []Judged) score.Figure {
	n := 0.0
	for _, j := range all {
		if j.Right {
			n++
		}
	}
	return score.Figure{N: n, Of: float64(len(all))}
}

// Answer is a question of yes or no with what is true and what two ways of asking say.
type Answer struct {
	Tier              string
	Truth, Old, Model bool
}

// PrintAnswers prints for each tier how many questions have each answer, and the share of
// them that the old way and the model answer right; names are those of no, yes, and the
// two ways.
func PrintAnswers(w io.Writer, all []Answer, names [4]string) {
	fmt.Fprintf(w, "%-12s%8s%10s%10s%8s%10s%10s\n", "tier", names[0], names[2], names[3], names[1], names[2],
		names[3])
	of, tiers := byTier(all, func(a Answer) []string { return []string{a.Tier} })
	for _, tier := range tiers {
		fmt.Fprintf(w, "%-12s", tier)
		for _, truth := range []bool{false, true} {
			n, old, model := 0.0, 0.0, 0.0
			for _, a := range of[tier] {
				if a.Truth != truth {
					continue
				}
				n++
				old, model = old+one(a.Old == truth), model+one(a.Model == truth)
			}
			fmt.Fprintf(w, "%8.0f", n)
			for _, right := range []float64{old, model} {
				if n == 0 {
					fmt.Fprintf(w, "%10s", "-")
					continue
				}
				fmt.Fprintf(w, "%10.3f", right/n)
			}
		}
		fmt.Fprintln(w)
	}
}

func one(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// PrintThresholds prints for each tier and for all what comes of writing the cases of which
// at least so much is said: precision, recall and F, total being how many true ones there
// are in each tier, heard or not.
func PrintThresholds(w io.Writer, all []Judged, total map[string]int, least []float64) {
	of, tiers := byTier(all, func(j Judged) []string { return []string{j.Tier} })
	for _, tier := range tiers {
		n := total[tier]
		if tier == every {
			n = 0
			for _, v := range total {
				n += v
			}
		}
		fmt.Fprintf(w, "%-12s", tier)
		for _, at := range least {
			written := Between(of[tier], at, 2)
			found := Right(written)
			fmt.Fprintf(w, "  %.1f:", at)
			for _, f := range []struct {
				name string
				score.Figure
			}{{"P", found}, {"R", score.Figure{N: found.N, Of: float64(n)}},
				{"F", score.Figure{N: 2 * found.N, Of: found.Of + float64(n)}}} {
				if v, ok := f.Value(); ok {
					fmt.Fprintf(w, " %s %.2f", f.name, v)
				} else {
					fmt.Fprintf(w, " %s -", f.name)
				}
			}
		}
		fmt.Fprintf(w, "  of %d\n", n)
	}
}

// PrintMatters prints how much each feature matters: its weight times its standard
// deviation.
func PrintMatters(w io.Writer, names []string, x [][]float64, weights []float64) {
	_, sd := Moments(x)
	for i, name := range names {
		fmt.Fprintf(w, "%-24s%8.3f\n", name, weights[i]*sd[i])
	}
}
