package main

import (
	"bytes"
	"strings"
	"unicode/utf8"
)

var ordinals = [13]string{"", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth"}

// ordinal of 1 to 12.
func ordinal(n int) string { return ordinals[n] }

// printColumns writes rows of cells in columns two spaces apart.
func printColumns(b *bytes.Buffer, rows [][]string) {
	var width []int
	for _, r := range rows {
		for i, cell := range r {
			if i == len(width) {
				width = append(width, 0)
			}
			width[i] = max(width[i], utf8.RuneCountInString(cell))
		}
	}
	for _, r := range rows {
		line := ""
		for i, cell := range r {
			line += cell + strings.Repeat(" ", width[i]-utf8.RuneCountInString(cell)+2)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}
