package wear_test

import (
	"fmt"

	"barrelbook/wear"
)

func ExampleLeakArea() {
	l, err := wear.LeakArea(wear.LeakTest{Reading: 700, Orifice: wear.LargeOrifice, Resolution: 10})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range l.Working {
		fmt.Println(s.Text+":", s.Numbers)
	}
	through, err := l.Through(wear.SmallOrifice)
	fmt.Printf("through 0.040 in: %.1f psi, %v\n", through, err)
	// Output:
	// orifice area: π × (1.524 mm)² / 4 = 1.824 mm²
	// orifice: 84.7 / 94.7 psi = 0.8944, not choked
	// leak: 14.7 / 84.7 psi = 0.1736, choked
	// leak area over orifice area: 94.7 × 0.3658 / (84.7 × 0.5787) = 0.707
	// leak area: 0.707 × 1.824 = 1.289 ± 0.046 mm²
	// through 0.040 in: 43.8 psi, <nil>
}

func ExampleJudgeLeak() {
	test := wear.LeakTest{Reading: 560, Orifice: wear.LargeOrifice, Resolution: 10}
	bore := wear.Value(130_175_000) // 5.125 in
	j, err := wear.JudgeLeak(test, bore, []wear.AirHeard{wear.AirAtExhaust}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(j.Verdict)
	for _, r := range j.Reasons {
		fmt.Println(r)
	}
	// Output:
	// beyond
	// Loss 30.0 % of the input; FAA AC 43.13-1B chg 1, para 8-14 allows 25 %.
	// Suspect: run the engine for at least 3 minutes and test again while it is warm.
	// Air at the exhaust: the exhaust valve leaks.
}

func ExampleRawChange() {
	_, err := wear.RawChange(wear.LeakTest{Reading: 700, Orifice: wear.LargeOrifice}, wear.LeakTest{Reading: 440, Orifice: wear.SmallOrifice})
	fmt.Println(err)
	// Output: compare readings: readings through different orifices cannot be compared
}

// 0.176 mm² in 100 h, computed independently by a Python script.
func ExampleTrendLeak() {
	var tests []wear.Point
	for i, reading := range []wear.PSI{760, 740, 720, 695} {
		l, err := wear.LeakArea(wear.LeakTest{Reading: reading, Orifice: wear.LargeOrifice, Resolution: 5})
		if err != nil {
			fmt.Println(err)
			return
		}
		p, err := l.Point(wear.Hours(10_000 * i))
		if err != nil {
			fmt.Println(err)
			return
		}
		tests = append(tests, p)
	}
	trend, err := wear.TrendLeak(tests)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(trend.Words)
	// Output: The leak grows by about 0.18 mm² in 100 h.
}
