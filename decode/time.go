package decode

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ParseTime reads a time in seconds ("83.4"), minutes and seconds ("1:23.4")
// or hours, minutes and seconds ("1:02:03") and returns it in seconds.
func ParseTime(s string) (float64, error) {
	parts := strings.Split(strings.TrimSpace(s), ":")
	if len(parts) > 3 {
		return 0, badTime(s)
	}
	total := 0.0
	for i, p := range parts {
		last := i == len(parts)-1
		v, err := parseTimePart(p, last)
		if err != nil || i > 0 && v >= 60 {
			return 0, badTime(s)
		}
		total = total*60 + v
	}
	if total > 1e7 {
		return 0, badTime(s)
	}
	return total, nil
}

// parseTimePart reads digits, and a decimal point where fraction is set.
func parseTimePart(s string, fraction bool) (float64, error) {
	digits := false
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits = true
		case r == '.' && fraction:
		default:
			return 0, strconv.ErrSyntax
		}
	}
	if !digits {
		return 0, strconv.ErrSyntax
	}
	return strconv.ParseFloat(s, 64)
}

func badTime(s string) error {
	return fmt.Errorf("%q is not a time: write seconds (83.4), minutes and seconds (1:23.4) "+
		"or hours too (1:02:03)", s)
}

// Clock writes a time in seconds as messages say it and [ParseTime] reads it:
// 2:03.4 or 1:02:03.4. It rounds down to a tenth, but for a millisecond.
func Clock(seconds float64) string {
	tenths := int64(math.Floor(seconds*10 + 0.01))
	h, m, rest := tenths/36000, tenths/600%60, tenths%600
	if h > 0 {
		return fmt.Sprintf("%d:%02d:%02d.%d", h, m, rest/10, rest%10)
	}
	return fmt.Sprintf("%d:%02d.%d", m, rest/10, rest%10)
}
