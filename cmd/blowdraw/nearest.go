package main

import "strings"

// nearest is the name that a wrong one was probably meant to be: one that begins or ends
// with it, or the one with the fewest mistakes of spelling, of equals the first; at most
// a mistake for every three letters. Empty if there is none.
func nearest(wrong string, names []string) string {
	wrong = strings.ToLower(wrong)
	best, fewest := "", len([]rune(wrong))/3+1
	for _, name := range names {
		n := mistakes(wrong, name)
		if len(wrong) > 1 && (strings.HasPrefix(name, wrong) || strings.HasSuffix(name, "-"+wrong)) {
			n = min(n, 1)
		}
		if n < fewest {
			best, fewest = name, n
		}
	}
	return best
}

// mistakes is how many letters must be put in, left out, changed, or changed over with
// the next to make b of a, no letter twice (Damerau 1964, "A technique for computer
// detection and correction of spelling errors"; Levenshtein 1966, "Binary codes capable
// of correcting deletions, insertions, and reversals").
func mistakes(a, b string) int {
	x, y := []rune(a), []rune(b)
	rows := make([][]int, len(x)+1) // mistakes between the first i letters of x and j of y
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		for j := range rows[i] {
			switch {
			case i == 0 || j == 0:
				rows[i][j] = i + j
				continue
			case x[i-1] == y[j-1]:
				rows[i][j] = rows[i-1][j-1]
			default:
				rows[i][j] = 1 + min(rows[i-1][j-1], rows[i-1][j], rows[i][j-1])
			}
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(x)][len(y)]
}
