package compare

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
)

// line is eight events half a second apart, the k-th moved by late(k) seconds.
func line(late func(k int) float64) string {
	var b strings.Builder
	for k := range 8 {
		fmt.Fprintf(&b, "0:%06.3f 0.2 %s\n", 1+0.5*float64(k)+late(k), []string{"-2", "-4", "4", "-3"}[k%4])
	}
	return b.String()
}

const (
	bars    = "meter: 4/4\nbar 1 0:01 I\nbar 2 0:03 IV\nbar 3 0:05\n"
	phrases = "Phrase 1 0:01 to 0:03\n"
)

// Counted and worked out by hand.
func TestVerdict(t *testing.T) {
	even := func(int) float64 { return 0.04 }
	for _, c := range []struct {
		name, a, b string
		want       Verdict
	}{
		{"itself", line(func(int) float64 { return 0 }), line(even), Verdict{Right: 8, Late: 0.04}},
		{"hand", passage, "0:01.01 0.4 -2\n0:01.5 0.4 -3''\n0:02.08 0.4 -4\n0:03 0.9 [-4 -5]\n" +
			"0:04 0.2 -2\n0:04.5 1 -1\n0:08 1 4\n", Verdict{Right: 5, Other: 1, LeftOut: 1, Added: 1, Late: 0.018}},
		// 20 ms earlier from note to note of bar 2, which has 4
		{"hurries", bars + line(func(int) float64 { return 0 }), line(func(k int) float64 {
			return -0.02 * float64(max(0, k-4))
		}), Verdict{Right: 8, Late: -0.015, Drifts: []Drift{{true, 2, -0.06}}}},
		{"within the limit", bars + line(func(int) float64 { return 0 }), line(func(k int) float64 {
			return -0.016 * float64(max(0, k-4))
		}), Verdict{Right: 8, Late: -0.012}},
		{"drags in a phrase", phrases + line(func(int) float64 { return 0 }), line(func(k int) float64 {
			return 0.02 * float64(k)
		}), Verdict{Right: 8, Late: 0.07, Drifts: []Drift{{false, 1, 0.14}}}},
		// one note late by 0.2 s is no tempo
		{"one late note", bars + line(func(int) float64 { return 0 }), line(func(k int) float64 {
			return 0.2 * float64(k/7)
		}), Verdict{Right: 8, Late: 0.025}},
	} {
		a, b := parse(t, c.a), parse(t, c.b)
		got := Difference(a, b, 0, 0.05).Verdict(a, 0.05)
		got.Late = math.Round(1e6*got.Late) / 1e6
		for i := range got.Drifts {
			got.Drifts[i].Seconds = math.Round(1e6*got.Drifts[i].Seconds) / 1e6
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}
