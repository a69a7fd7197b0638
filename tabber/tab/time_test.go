package tab

import "testing"

// Worked out by hand: a clock rounds to what it shows, and carries.
func TestClocks(t *testing.T) {
	for _, c := range []struct {
		seconds     float64
		fine, short string
		ms          int
	}{
		{0, "0:00.000", "0:00", 0},
		{59.9994, "0:59.999", "1:00", 59999},
		{59.9996, "1:00.000", "1:00", 60000},
		{83.4, "1:23.400", "1:23", 83400},
		{3599.9996, "1:00:00.000", "1:00:00", 3600000},
		{4503.12, "1:15:03.120", "1:15:03", 4503120},
		{3723.456, "1:02:03.456", "1:02:03", 3723456},
		{-0.25, "-0:00.250", "0:00", -250},
	} {
		if got := Clock(c.seconds); got != c.fine {
			t.Errorf("%g s is %s, want %s", c.seconds, got, c.fine)
		}
		if got := ShortClock(c.seconds); got != c.short {
			t.Errorf("%g s is %s in short, want %s", c.seconds, got, c.short)
		}
		if got := Millis(c.seconds); got != c.ms || Rounded(c.seconds) != float64(c.ms)/1000 {
			t.Errorf("%g s is %d ms, rounded %g; want %d", c.seconds, got, Rounded(c.seconds), c.ms)
		}
		if c.seconds < 0 {
			continue
		}
		if got, err := parseClock(Clock(c.seconds)); err != nil || got != Rounded(c.seconds) {
			t.Errorf("%s is read as %g, %v", Clock(c.seconds), got, err)
		}
	}
}

// The longest times that are read are read again as they are written.
func TestLongestTimes(t *testing.T) {
	reprint(t, "blowdraw tab 1\nharp: C\nsong: G\nPhrase 1 0:01 to 16777215:04\n16777214:04 1000000 -4\n-3\n")
}
