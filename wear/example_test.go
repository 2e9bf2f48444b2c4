package wear_test

import (
	"fmt"

	"barrelbook/wear"
)

// barrels are eight normal barrels of one engine, measured new and at 61 h in
// inches, and a ninth.
func barrels(ninth float64) []wear.Run {
	var runs []wear.Run
	for _, worn := range []float64{0.0007, 0.0009, 0.0010, 0.0008, 0.0012, 0.0007, 0.0011, 0.0009, ninth} {
		runs = append(runs, wear.Run{Points: []wear.Point{
			{Hours: 0, Y: 5.0005, U: 0.0002},
			{Hours: 61, Y: 5.0005 + worn, U: 0.0002},
		}})
	}
	return runs
}

func ExampleJudgeGroup() {
	runs := barrels(0.0055)
	questions := make([]wear.Question, len(runs))
	allowance := wear.Allowance{PerHour: 0.005 / 1500, Life: 1500}
	_, _, judgements, err := wear.JudgeGroup(runs, questions, allowance, wear.DefaultSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(judgements[8].State)
	fmt.Println(judgements[8].Sentence("installation"))
	fmt.Println(judgements[0].State)
	// Output:
	// flagged
	// 61 h since installation, worn like 1,830 h; 6.5 times a normal part, chance 1 in 14,000.
	// normal
}

func ExampleGroup_Judge() {
	group, shares, err := wear.FitGroup(barrels(0.0010), wear.Allowance{PerHour: 0.005 / 1500, Life: 1500}, wear.DefaultSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	// The ninth barrel has been measured again since the group was fitted.
	run := barrels(0.0010)[8]
	run.Points = append(run.Points, wear.Point{Hours: 240, Y: 5.0021, U: 0.0002})
	j, err := group.Judge(run, &shares[8], wear.Question{Limit: 5.006, HasLimit: true}, wear.DefaultSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(j.Sentence("installation"))
	fmt.Println(j.Forecast.Sentence())
	// Output:
	// 240 h since installation, worn like 190 h; 0.9 of a normal part.
	// About 1,010 h to the service limit, between 570 and 2,700 h.
}

func ExampleOneIn() {
	fmt.Println(wear.OneIn(0.00024))
	// Output: 1 in 4,200
}

// The ninth barrel wore as the others until 300 h and fast from there.
func ExampleJudgement_Sentence() {
	var runs []wear.Run
	for i, rate := range []float64{0.0016, 0.0021, 0.0024, 0.0019, 0.0027, 0.0017, 0.0023, 0.0020, 0.0022} {
		run := wear.Run{Points: []wear.Point{{Hours: 0, Y: 5, U: 0.0002}, {Hours: 300, Y: 5 + rate, U: 0.0002}, {Hours: 500, Y: 5 + 1.5*rate, U: 0.0002}}}
		if i == 8 {
			run.Points[2].Y += 0.004
		}
		runs = append(runs, run)
	}
	_, _, judgements, err := wear.JudgeGroup(runs, make([]wear.Question, len(runs)), wear.Allowance{}, wear.DefaultSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(judgements[8].Sentence("honing"))
	fmt.Println(judgements[8].Whole.Sentence())
	fmt.Println(judgements[0].Interval.Sentence())
	// Output:
	// 500 h since honing; over the latest 200 h it wore 5.0 times as fast as a normal part, chance less than 1 in 1,000,000; over its whole run, 2.2 times a normal part.
	// Whole run, 500 h: 2.2 times a normal part, chance 1 in 80.
	// Latest 200 h: 0.7 of a normal part.
}

func ExampleJudgeEngines() {
	var runs []wear.Run
	var engineOf []int
	for engine, times := range []float64{1, 3, 0.9} {
		for _, run := range barrels(0.0010) {
			run.Points[1].Y = 5.0005 + times*(run.Points[1].Y-5.0005)
			runs, engineOf = append(runs, run), append(engineOf, engine)
		}
	}
	s := wear.DefaultSettings()
	group, shares, err := wear.FitGroup(runs, wear.Allowance{}, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	_, _, engines, err := wear.JudgeEngines(group, shares, runs, engineOf, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range engines {
		fmt.Println(e.Engine, e.Sentence("cylinders"))
	}
	// Output:
	// 0 Whole engine, 9 cylinders: together 0.5 of a normal part of the other engines; 0 of 9 show more wear than expected.
	// 1 Whole engine, 9 cylinders: together 3.3 times a normal part of the other engines, chance 1 in 7,100; 9 of 9 show more wear than expected; look for what they share, such as dust, cold starts or the rings fitted.
	// 2 Whole engine, 9 cylinders: together 0.5 of a normal part of the other engines; 0 of 9 show more wear than expected.
}

// What a book stores of a group is enough to judge one engine again.
func ExampleGroup_JudgeEngine() {
	var runs []wear.Run
	var engines []wear.EngineShare
	for range 3 {
		runs = append(runs, barrels(0.0010)...)
	}
	s := wear.DefaultSettings()
	group, shares, err := wear.FitGroup(runs, wear.Allowance{}, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	for n := range 3 {
		share, err := group.EngineShareOf(n, shares[9*n:9*n+9], s)
		if err != nil {
			fmt.Println(err)
			return
		}
		engines = append(engines, share)
	}
	spread, err := wear.FitEngines(engines, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	others, err := spread.Without(engines[0])
	if err != nil {
		fmt.Println(err)
		return
	}
	j, err := group.JudgeEngine(runs[:9], shares[:9], others, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(j.Sentence("cylinders"))
	// Output:
	// Whole engine, 9 cylinders: together as a normal part of the other engines; 6 of 9 show more wear than expected.
}

func ExampleDiscoveries() {
	order, err := wear.Discoveries([]float64{0.3, 0.0004, 0.9, 0.02}, 0.10)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range order {
		fmt.Printf("part %d: p %.4f, adjusted %.4f, passes %v\n", d.Index, d.P, d.Adjusted, d.Passes)
	}
	// Output:
	// part 1: p 0.0004, adjusted 0.0016, passes true
	// part 3: p 0.0200, adjusted 0.0400, passes true
	// part 0: p 0.3000, adjusted 0.4000, passes false
	// part 2: p 0.9000, adjusted 0.9000, passes false
}
