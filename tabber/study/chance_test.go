package study

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.Abs(got-want) > tolerance || math.IsNaN(got) {
		t.Errorf("%s: %g, want %g", what, got, want)
	}
}

// With equal chances it is the binomial law (gonum); with unequal ones all outcomes are
// tried.
func TestPoissonBinomial(t *testing.T) {
	for _, p := range []float64{0, 0.1, 0.5, 0.93, 1} {
		law := PoissonBinomial(slices.Repeat([]float64{p}, 17))
		for k, got := range law {
			near(t, "binomial", got, distuv.Binomial{N: 17, P: p}.Prob(float64(k)), 1e-12)
		}
	}
	chances := []float64{0.1, 0.25, 0.6, 0.9, 0.33}
	want := make([]float64, len(chances)+1)
	for outcome := range 1 << len(chances) {
		p, n := 1.0, 0
		for i, c := range chances {
			if outcome>>i&1 == 1 {
				p, n = p*c, n+1
			} else {
				p *= 1 - c
			}
		}
		want[n] += p
	}
	for k, got := range PoissonBinomial(chances) {
		near(t, "all outcomes", got, want[k], 1e-12)
	}
}

// The lady who tells how tea was poured: eight cups, four of each kind, all told right, is
// one in seventy (Fisher 1935, "The Design of Experiments", chapter 2), three of four right
// or more 17 in seventy; and the sum of the law by gonum.
func TestEnriched(t *testing.T) {
	near(t, "tea", Enriched(4, 4, 4, 8), 1./70, 1e-12)
	near(t, "tea, three right", Enriched(3, 4, 4, 8), 17./70, 1e-12)
	for k := range 8 {
		want := 0.0
		for i := k; i <= 7; i++ {
			want += math.Exp(combin.LogGeneralizedBinomial(12, float64(i)) +
				combin.LogGeneralizedBinomial(40-12, float64(7-i)) - combin.LogGeneralizedBinomial(40, 7))
		}
		near(t, "gonum", Enriched(k, 7, 12, 40), want, 1e-9)
	}
}

// The hours of sleep that one drug gave more than another to ten people: mean 1.58, t 4.06,
// P 0.0014 one-sided (Student 1908, "The probable error of a mean", Biometrika 6; the
// figures of the two-sided test, 0.002833 and 0.70 to 2.46, are those of R's t.test, from
// memory).
func TestMeanTest(t *testing.T) {
	hours := []float64{1.2, 2.4, 1.3, 1.3, 0, 1, 1.8, 0.8, 4.6, 1.4}
	mean, half, p, ok := MeanTest(hours)
	if !ok {
		t.Fatal("no test")
	}
	near(t, "mean", mean, 1.58, 1e-9)
	near(t, "p", p, 0.002833, 1e-6)
	near(t, "interval from", mean-half, 0.70, 0.005)
	near(t, "interval to", mean+half, 2.46, 0.005)
	for n := 3; n < 40; n += 6 { // and by gonum's law
		values := make([]float64, n)
		for i := range values {
			values[i] = 0.3 + math.Sin(float64(i*i))
		}
		mean, half, p, _ := MeanTest(values)
		law := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}
		near(t, "gonum", p, 2*law.Survival(math.Abs(mean)/(half/law.Quantile(0.975))), 1e-9)
	}
	if _, _, _, ok := MeanTest([]float64{1, 1, 1}); ok {
		t.Error("equal values are no test")
	}
}

// The fifteen p of the example of Benjamini & Hochberg 1995, section 3.2 (from memory):
// their procedure takes the first four for findings, Bonferroni's the first three. Holm's
// lies between.
func TestCorrections(t *testing.T) {
	p := []float64{
		0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528,
		0.7590, 1,
	}
	count := func(list []float64) (n int) {
		for _, v := range list {
			if v < 0.05 {
				n++
			}
		}
		return n
	}
	if n := count(FalseShare(p)); n != 4 {
		t.Errorf("Benjamini & Hochberg: %d findings, want 4", n)
	}
	if n := count(Holm(p)); n != 3 {
		t.Errorf("Holm: %d findings, want 3", n)
	}
	// By hand: 4·0.01, 3·0.02, then not below it.
	for i, v := range Holm([]float64{0.04, 0.01, 0.03, 0.02}) {
		near(t, "Holm", v, []float64{0.06, 0.04, 0.06, 0.06}[i], 1e-12)
	}
}

// The exact bound by gonum's beta law (Clopper & Pearson 1934), and "three in n" (Hanley &
// Lippman-Hand 1983), which is a little more.
func TestUpperBound(t *testing.T) {
	for _, n := range []float64{1, 10, 59, 300} {
		near(t, "Clopper & Pearson", UpperBound(n), distuv.Beta{Alpha: 1, Beta: n}.Quantile(0.95), 1e-9)
		if three := 3 / n; UpperBound(n) > three || n > 50 && UpperBound(n) < 0.95*three {
			t.Errorf("%g cases: %g, three in n is %g", n, UpperBound(n), three)
		}
	}
}

// With many counts the random draws come to the chi-squared law (gonum).
func TestFit(t *testing.T) {
	for _, counts := range [][]int{{100, 110, 95, 95}, {120, 90, 105, 85}, {130, 90, 80, 100}} {
		chi, n := 0.0, 0.0
		for _, c := range counts {
			n += float64(c)
		}
		for _, c := range counts {
			e := n / float64(len(counts))
			chi += (float64(c) - e) * (float64(c) - e) / e
		}
		want := distuv.ChiSquared{K: float64(len(counts) - 1)}.Survival(chi)
		near(t, "chi-squared", FitTest(counts, 1), want, 4*math.Sqrt(want/permutations)+0.005)
	}
}

// Definition 7 of Hyndman & Fan 1996 on 1 to 10, as R's quantile has it (from memory).
func TestQuartiles(t *testing.T) {
	a, b, c := Quartiles([]float64{10, 1, 9, 2, 8, 3, 7, 4, 6, 5})
	near(t, "first", a, 3.25, 1e-12)
	near(t, "median", b, 5.5, 1e-12)
	near(t, "third", c, 7.75, 1e-12)
}

// One statistic has the p of the exact law: of 12 bars of which 3 are marked, 5 are drawn;
// none at all is likelier than all three, so that it does not count as as far out.
// Of many that are pure chance the smallest p lies below 0.05 one time in twenty.
func TestSmallestP(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	bars := []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}
	var rows [][]float64
	for i := range permutations {
		marked := 0
		for _, b := range bars[:5] {
			if b < 3 {
				marked++
			}
		}
		if i == 0 {
			marked = 3
		}
		rows = append(rows, []float64{float64(marked)})
		rng.Shuffle(len(bars), func(i, j int) { bars[i], bars[j] = bars[j], bars[i] })
	}
	p, expected := smallestP(rows)
	near(t, "p", p[0], Enriched(3, 5, 3, 12), 0.02)
	near(t, "expected", expected[0], 5*3./12, 0.05)

	const trials = 200
	small := 0
	for range trials {
		rows := make([][]float64, 800)
		for i := range rows {
			rows[i] = make([]float64, 8)
			for k := range rows[i] {
				rows[i][k] = rng.NormFloat64()
			}
		}
		if p, _ := smallestP(rows); slices.Min(p) < Sure {
			small++
		}
	}
	near(t, "families with a small p", float64(small)/trials, Sure, 4*math.Sqrt(Sure*(1-Sure)/trials))
}
