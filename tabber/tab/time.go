package tab

import (
	"fmt"
	"math"
)

// Millis is a time in seconds in whole milliseconds, to which a document tells times.
func Millis(seconds float64) int { return int(math.Round(1000 * seconds)) }

// Rounded is a time in seconds to the millisecond, as the reader of a document sees it.
func Rounded(seconds float64) float64 { return float64(Millis(seconds)) / 1000 }

// Clock writes a time in seconds as the text document has it, in minutes and seconds:
// 75:03.120.
func Clock(seconds float64) string {
	ms, sign := Millis(seconds), ""
	if ms < 0 {
		sign, ms = "-", -ms
	}
	return fmt.Sprintf("%s%d:%02d.%03d", sign, ms/60000, ms/1000%60, ms%1000)
}

// ShortClock writes a time in seconds for a label, to the second: 75:03.
func ShortClock(seconds float64) string {
	s := int(math.Round(seconds))
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// seconds writes a time in seconds with three decimals.
func seconds(s float64) string { return fixed(Rounded(s), 3) }
