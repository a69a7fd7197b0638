package tab

import (
	"fmt"
	"math"
)

// Millis is a time in seconds in whole milliseconds, to which a document tells times.
func Millis(seconds float64) int { return int(math.Round(1000 * seconds)) }

// Rounded is a time in seconds to the millisecond, as the reader of a document sees it.
func Rounded(seconds float64) float64 { return float64(Millis(seconds)) / 1000 }

// Clock writes a time in seconds as the text document has it, in minutes and seconds,
// from an hour on with the hours: 15:03.120, 1:15:03.120.
func Clock(seconds float64) string {
	ms, sign := Millis(seconds), ""
	if ms < 0 {
		sign, ms = "-", -ms
	}
	return fmt.Sprintf("%s%s:%02d.%03d", sign, hoursMinutes(ms/60000), ms/1000%60, ms%1000)
}

// ShortClock writes a time in seconds for a label, to the second: 15:03, 1:15:03.
func ShortClock(seconds float64) string {
	s := int(math.Round(seconds))
	return fmt.Sprintf("%s:%02d", hoursMinutes(s/60), s%60)
}

// hoursMinutes writes minutes, from 60 on with hours before them.
func hoursMinutes(minutes int) string {
	if minutes < 60 {
		return fmt.Sprint(minutes)
	}
	return fmt.Sprintf("%d:%02d", minutes/60, minutes%60)
}

// seconds writes a time in seconds with three decimals.
func seconds(s float64) string { return fixed(Rounded(s), 3) }
