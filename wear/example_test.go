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
	// About 900 h to the service limit, between 540 and 2,830 h.
}

func ExampleOneIn() {
	fmt.Println(wear.OneIn(0.00024))
	// Output: 1 in 4,200
}
