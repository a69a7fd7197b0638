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

// printLines prints the lines in which two texts differ, as far as they have as many, and
// how many lines there are.
func printLines(w io.Writer, old, now string) {
	was, is := strings.Split(old, "\n"), strings.Split(now, "\n")
	changed := 0
	for i, line := range is {
		if i < len(was) && was[i] == line {
			continue
		}
		changed++
		if len(was) == len(is) {
			fmt.Fprintf(w, "%s ->%s\n", was[i], line)
		}
	}
	fmt.Fprintf(w, "%d of %d lines differ\n", changed, len(is))
}
