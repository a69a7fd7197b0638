package fit

import (
	"fmt"
	"io"
	"strings"

	"blowdraw/decode/logistic"
)

// PrintChange prints the numbers of a model's file beside those that it had. What only
// one of the two has is left blank in the other.
func PrintChange(w io.Writer, old, now logistic.File) {
	fmt.Fprintf(w, "%-24s%14s%14s%12s\n", now.Model, "old", "new", "change")
	row := func(name string, was, is *float64) {
		fmt.Fprintf(w, "%-24s", name)
		for _, v := range []*float64{was, is} {
			if v == nil {
				fmt.Fprintf(w, "%14s", "")
				continue
			}
			fmt.Fprintf(w, "%14.6g", *v)
		}
		if was != nil && is != nil {
			fmt.Fprintf(w, "%+12.2g", *is-*was)
		}
		fmt.Fprintln(w)
	}
	was := map[string]*float64{}
	if old.Model != "" {
		was[""] = &old.Constant
	}
	for i := range old.Weights {
		was[old.Weights[i].Name] = &old.Weights[i].Value
	}
	row("constant", was[""], &now.Constant)
	for i := range now.Weights {
		name := now.Weights[i].Name
		row(name, was[name], &now.Weights[i].Value)
		delete(was, name)
	}
	for _, o := range old.Weights {
		if was[o.Name] != nil {
			row(o.Name, was[o.Name], nil)
		}
	}
}

// printLines prints the lines in which two texts differ, those that go with a minus, those
// that come with a plus, and how many of the new ones stay. What stays is a longest common
// subsequence (Wagner & Fischer 1974, "The string-to-string correction problem"; from
// memory).
func printLines(w io.Writer, old, now string) {
	was, is := strings.Split(old, "\n"), strings.Split(now, "\n")
	common := make([][]int, len(was)+1) // of what follows from line i and line j on
	for i := range common {
		common[i] = make([]int, len(is)+1)
	}
	for i := len(was) - 1; i >= 0; i-- {
		for j := len(is) - 1; j >= 0; j-- {
			if common[i][j] = max(common[i+1][j], common[i][j+1]); was[i] == is[j] {
				common[i][j] = common[i+1][j+1] + 1
			}
		}
	}
	for i, j := 0, 0; i < len(was) || j < len(is); {
		switch {
		case i < len(was) && j < len(is) && was[i] == is[j]:
			i, j = i+1, j+1
		case j == len(is) || i < len(was) && common[i+1][j] >= common[i][j+1]:
			fmt.Fprintf(w, "-%s\n", was[i])
			i++
		default:
			fmt.Fprintf(w, "+%s\n", is[j])
			j++
		}
	}
	fmt.Fprintf(w, "%d of %d lines stay\n", common[0][0], len(is))
}
