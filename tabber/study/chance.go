package study

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// permutations of a test, the observed order among them.
const permutations = 4000

// smallestP are the p of several statistics that were computed for the observed order,
// which is the first row, and for permutations of it: of each two-sided, the chance that
// the smallest p of those that are not likelier is as small (Westfall & Young 1993,
// step-down). Expected are
// the means. A statistic that never varies has p 1.
func smallestP(rows [][]float64) (p, expected []float64) {
	m, n := len(rows), len(rows[0])
	own := make([][]float64, n) // p of each statistic by itself, for each row
	expected = make([]float64, n)
	column := make([]float64, m)
	for k := range n {
		for i, r := range rows {
			column[i] = tidy(r[k])
			expected[k] += r[k] / float64(m)
		}
		own[k] = twoSided(column)
	}
	order := make([]int, n) // the likeliest first
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(own[b][0], own[a][0]) })
	least := slices.Repeat([]float64{1}, m) // smallest p of each row, of the statistics so far
	p = make([]float64, n)
	for _, k := range order {
		as := 0
		for i := range least {
			least[i] = min(least[i], own[k][i])
			if least[i] <= own[k][0]+1e-12 {
				as++
			}
		}
		p[k] = float64(as) / float64(m)
	}
	for rank := n - 2; rank >= 0; rank-- { // none below that of one that is less likely
		p[order[rank]] = max(p[order[rank]], p[order[rank+1]])
	}
	return p, expected
}

// twoSided is for each value twice the share of values that are as far out, at most 1.
func twoSided(values []float64) []float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return compare(values[a], values[b]) })
	n := float64(len(values))
	out := make([]float64, len(values))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && values[order[to]] == values[order[from]] {
			to++
		}
		p := min(1, 2*min(n-float64(from), float64(to))/n)
		for _, i := range order[from:to] {
			out[i] = p
		}
		from = to
	}
	return out
}

// PoissonBinomial is the law of how many of independent events happen that have those
// chances: out[k] is the chance of k. It is computed event by event (Hong 2013, section
// 2.3), which is exact.
func PoissonBinomial(chances []float64) []float64 {
	out := []float64{1}
	for _, p := range chances {
		next := make([]float64, len(out)+1)
		for k, q := range out {
			next[k] += q * (1 - p)
			next[k+1] += q * p
		}
		out = next
	}
	return out
}

// tails of a law on 0, 1, 2, ...: the chance of a count as far out as the observed one,
// two-sided. An observed count that is no whole number, since some of it is in doubt,
// counts as the whole number that is nearer to the mean.
func tails(law []float64, observed, mean float64) float64 {
	k := math.Ceil(observed - 1e-9)
	if observed > mean {
		k = math.Floor(observed + 1e-9)
	}
	var below, above float64
	for i, q := range law {
		if float64(i) <= k {
			below += q
		}
		if float64(i) >= k {
			above += q
		}
	}
	return min(1, 2*min(below, above))
}

// Holm corrects p for their number (Holm 1979); the order stays.
func Holm(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	out := make([]float64, len(p))
	worst := 0.0
	for rank, i := range order {
		worst = max(worst, min(1, p[i]*float64(len(p)-rank)))
		out[i] = worst
	}
	return out
}

// FalseShare is for each p the least share of chance among the findings, if all p up to
// it count as findings (Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57); the order stays.
func FalseShare(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[b], p[a]) })
	out := make([]float64, len(p))
	least := 1.0
	for rank, i := range order { // the largest first
		least = min(least, p[i]*float64(len(p))/float64(len(p)-rank))
		out[i] = least
	}
	return out
}

// UpperBound is the share, of 1, that something at most has with 95 % that was never seen
// in n independent cases: the exact bound of Clopper & Pearson (1934, Biometrika 26) for
// none, of which "three in n" is the short form (Hanley & Lippman-Hand 1983, JAMA 249).
func UpperBound(n float64) float64 {
	if n < 1 {
		return 1
	}
	return 1 - math.Pow(0.05, 1/n)
}

// MeanTest holds the mean of independent values against 0 by Student's t: the mean, half
// the width of its 95 % interval, and p, two-sided. ok is false for fewer than 3 values or
// for equal ones.
func MeanTest(values []float64) (mean, half, p float64, ok bool) {
	n := float64(len(values))
	for _, v := range values {
		mean += v / n
	}
	var squares float64
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	if n < 3 || squares == 0 {
		return mean, 0, 1, false
	}
	// Both tails beyond t are the regularized incomplete beta function of nu/(nu+t²), with
	// nu/2 and 1/2 (Abramowitz & Stegun 1964, 26.7.1 and 26.5.27).
	nu := n - 1
	e := math.Sqrt(squares / nu / n)
	t := mean / e
	x := mathext.InvRegIncBeta(nu/2, 0.5, 0.05)
	return mean, math.Sqrt(nu*(1-x)/x) * e, mathext.RegIncBeta(nu/2, 0.5, nu/(nu+t*t)), true
}

// FitTest is the chance of counts as uneven as these if all cells were equally likely: by
// chi-squared over random draws, as the counts are small.
func FitTest(counts []int, test uint64) float64 {
	n := 0
	for _, c := range counts {
		n += c
	}
	if n == 0 || len(counts) < 2 {
		return 1
	}
	uneven := func(counts []int) (sum int) {
		for _, c := range counts {
			sum += c * c
		}
		return sum
	}
	rng, observed, as := draws(test), uneven(counts), 1
	drawn := make([]int, len(counts))
	for range permutations - 1 {
		clear(drawn)
		for range n {
			drawn[rng.IntN(len(drawn))]++
		}
		if uneven(drawn) >= observed {
			as++
		}
	}
	return float64(as) / permutations
}

// Enriched is the chance that of n things drawn without putting back from all, of which
// marked are marked, at least k are marked (the hypergeometric law; Fisher's exact test,
// one-sided: Fisher 1935, "The Logic of Inductive Inference").
func Enriched(k, n, marked, all int) float64 {
	sum := 0.0
	for i := k; i <= min(n, marked); i++ {
		if n-i > all-marked {
			continue
		}
		sum += math.Exp(logChoose(marked, i) + logChoose(all-marked, n-i) - logChoose(all, n))
	}
	return min(1, sum)
}

func logChoose(n, k int) float64 {
	gamma := func(x int) float64 { v, _ := math.Lgamma(float64(x)); return v }
	return gamma(n+1) - gamma(k+1) - gamma(n-k+1)
}

// Quartiles of values: a quarter, a half and three quarters lie below them (linear between
// the values, definition 7 of Hyndman & Fan 1996, Am. Stat. 50). There must be a value.
func Quartiles(values []float64) (first, median, third float64) {
	sorted := slices.Sorted(slices.Values(values))
	at := func(q float64) float64 {
		x := q * float64(len(sorted)-1)
		i := int(x)
		if i+1 >= len(sorted) {
			return sorted[i]
		}
		return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
	}
	return at(0.25), at(0.5), at(0.75)
}
