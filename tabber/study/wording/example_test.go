package wording_test

import (
	"fmt"

	"blowdraw/tabber/study"
	"blowdraw/tabber/study/wording"
)

func ExampleFinding() {
	expected, p := 0.21, 0.011
	m := study.Measure{Name: "b7", Over: "IV", Value: 0.4, Unit: study.Share, Expected: &expected, P: &p}
	fmt.Println(wording.Finding(m))
	m.Over, m.Value, p = "bar 9", 0, 0.0042
	fmt.Println(wording.Finding(m))
	// Output:
	// More b7 over IV: 40%, by chance 21% (p 0.01)
	// Less b7 in bar 9: none, by chance 21% (p 0.004)
}

func ExamplePlace() {
	p := study.Place{Solo: 1, From: 83.25, At: "5|3"}
	fmt.Println(wording.Place(p, 1))
	fmt.Println(wording.Place(p, 2))
	// Output:
	// 5|3 1:23.3
	// 2: 5|3 1:23.3
}

func ExampleOneIn() {
	for _, chance := range []float64{0.0001, 0.0042, 0.023, 0.4} {
		fmt.Println(wording.OneIn(chance, "solo"))
	}
	// Output:
	// fewer than 1 solo of 1000
	// 1 solo of 200
	// 1 solo of 40
	// 1 solo of 2
}

func ExampleMoveLines() {
	p := 0.004
	m := study.Move{
		Tab: "-4 -3' -2", Degrees: "5 b3 1", Rhythm: "0 1/3 2/3", Chance: 0.004, Sure: 1,
		Times:    []study.Played{{}, {}, {}},
		Variants: []study.Variant{{Tab: "-4 -3' -2", Count: 1}, {Tab: "-4 -3 -2", Count: 2}},
		InForm: []study.Measure{
			{Over: "I", Value: 3}, {Over: "bar 11", Value: 3},
		},
		Where: &study.Measure{Over: "bar 11", P: &p},
	}
	for _, l := range wording.MoveLines(m) {
		fmt.Printf("%s: %s\n", l[0], l[1])
	}
	// Output:
	// tab: -4 -3' -2
	// degrees: 5 b3 1
	// beats: 0 1/3 2/3
	// also: -4 -3 -2 (twice)
	// played: 3 times, by chance in 1 study of 300
	// begins: over I (3); in bar 11 (3); more in bar 11 than by chance (p 0.004)
}
