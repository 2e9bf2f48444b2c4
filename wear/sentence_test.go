package wear

import "testing"

func TestSentence(t *testing.T) {
	for _, c := range []struct {
		j    Judgement
		want string
	}{
		{Judgement{State: Flagged, Hours: 61, EquivalentHours: 943, Ratio: 6.21, P: 0.00025},
			"61 h since installation, worn like 940 h; 6.2 times a normal part, chance 1 in 4,000."},
		{Judgement{State: Flagged, Hours: 1204.5, EquivalentHours: 4500, EquivalentMore: true, Ratio: 31.4, P: 1e-9},
			"1,205 h since installation, worn like more than 4,500 h; 31 times a normal part, chance less than 1 in 1,000,000."},
		{Judgement{State: Normal, Hours: 300, EquivalentHours: 301, Ratio: 1.02, P: 0.45, BaselineAssumed: true},
			"300 h since installation, counted from the middle of the new limits, worn like 300 h; as a normal part."},
		{Judgement{State: Normal, Hours: 300, EquivalentHours: 88.4, Ratio: 0.61, P: 0.9},
			"300 h since installation, worn like 88 h; 0.6 of a normal part."},
		{Judgement{State: TooYoung, Hours: 12, MoreHours: 33},
			"12 h since installation: too young to judge; a reading after 40 more hours would tell."},
		{Judgement{State: TooYoung, Hours: 12},
			"12 h since installation: too young to judge, the gauge's error is larger than the wear."},
		{Judgement{State: NoWearSeen, Hours: 120},
			"120 h since installation: no wear seen, the readings stand still within the gauge's error."},
		{Judgement{State: TooFewReadings}, "0 h since installation: too few readings to judge, it takes one more after some hours of running."},
		{Judgement{State: NoReference, Hours: 50}, "50 h since installation: no verdict, nothing to compare it with yet."},
		{late(Tested{State: Normal, Ratio: 1.62}, Judgement{}),
			"600 h since installation; over the latest 150 h it wore 4.2 times as fast as a normal part, chance 1 in 4,000; over its whole run, 1.6 times a normal part."},
		{late(Tested{State: Normal, Ratio: 0.98}, Judgement{BaselineAssumed: true}),
			"600 h since installation; over the latest 150 h it wore 4.2 times as fast as a normal part, chance 1 in 4,000; over its whole run, counted from the middle of the new limits, as a normal part."},
		{late(Tested{State: NoWearSeen, Ratio: -0.1}, Judgement{}),
			"600 h since installation; over the latest 150 h it wore 4.2 times as fast as a normal part, chance 1 in 4,000; over its whole run no wear seen."},
		{late(Tested{State: TooYoung, Ratio: 2}, Judgement{}),
			"600 h since installation; over the latest 150 h it wore 4.2 times as fast as a normal part, chance 1 in 4,000; its whole run cannot be judged yet."},
	} {
		if got := c.j.Sentence("installation"); got != c.want {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
}

// late is a part flagged by its latest interval.
func late(whole Tested, j Judgement) Judgement {
	j.State, j.Test, j.Hours, j.Whole = Flagged, LastInterval, 600, whole
	j.Interval = Tested{Test: LastInterval, State: Flagged, FromHours: 450, ToHours: 600, Ratio: 4.21, P: 0.00025}
	return j
}

func TestTestedSentence(t *testing.T) {
	for _, c := range []struct {
		t    Tested
		want string
	}{
		{Tested{Test: LastInterval, State: Flagged, FromHours: 450, ToHours: 600.4, Ratio: 4.21, P: 0.00025}, "Latest 150 h: 4.2 times a normal part, chance 1 in 4,000."},
		{Tested{Test: LastInterval, State: Normal, FromHours: 450, ToHours: 1600, Ratio: 1.04, P: 0.45}, "Latest 1,150 h: as a normal part."},
		{Tested{Test: WholeRun, State: Normal, ToHours: 600, Ratio: 2, P: 0.04}, "Whole run, 600 h: 2.0 times a normal part, chance 1 in 25."},
		{Tested{Test: LastInterval, State: TooYoung, FromHours: 450, ToHours: 460}, "Latest 10 h: too little wear for this gauge to judge by."},
		{Tested{Test: LastInterval, State: NoWearSeen, FromHours: 450, ToHours: 600}, "Latest 150 h: no wear seen, the readings stand still within the gauge's error."},
		{Tested{Test: LastInterval, State: NoReference, FromHours: 450, ToHours: 600}, "Latest 150 h: no verdict, nothing to compare it with yet."},
		{Tested{Test: LastInterval, State: TooFewReadings}, "Latest interval: it takes readings at three different hours."},
		{Tested{Test: WholeRun, State: TooFewReadings}, "Whole run: it takes readings at two different hours."},
	} {
		if got := c.t.Sentence(); got != c.want {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
}

func TestEngineSentence(t *testing.T) {
	for _, c := range []struct {
		j    EngineJudgement
		want string
	}{
		{EngineJudgement{State: Flagged, Parts: 9, Faster: 8, Ratio: 2.83, P: 0.000081},
			"Whole engine, 9 cylinders: together 2.8 times a normal part of the other engines, chance 1 in 12,000; 8 of 9 show more wear than expected; look for what they share, such as dust, cold starts or the rings fitted."},
		{EngineJudgement{State: Flagged, Parts: 9, Faster: 9, Ratio: 5.1, P: 0.002, ByAllowance: true},
			"Whole engine, 9 cylinders: together 5.1 times what the maker's allowance leads to expect, for want of other engines, chance 1 in 500; 9 of 9 show more wear than expected; look for what they share, such as dust, cold starts or the rings fitted."},
		{EngineJudgement{State: Normal, Parts: 9, Faster: 5, Ratio: 1.02, P: 0.45}, "Whole engine, 9 cylinders: together as a normal part of the other engines; 5 of 9 show more wear than expected."},
		{EngineJudgement{State: TooYoung, Parts: 9}, "Whole engine, 9 cylinders: too young to judge, the gauge's error is too large for so little wear."},
		{EngineJudgement{State: NoWearSeen, Parts: 9}, "Whole engine, 9 cylinders: no wear seen, the readings stand still within the gauge's error."},
		{EngineJudgement{State: TooFewReadings, Parts: 2}, "Whole engine, 2 cylinders: too few to judge, it takes 3 with a reading after some hours of running."},
		{EngineJudgement{State: NoReference}, "Whole engine: no verdict, nothing to compare its cylinders with yet."},
	} {
		if got := c.j.Sentence("cylinders"); got != c.want {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
}

func TestForecastSentence(t *testing.T) {
	for _, c := range []struct {
		f    Forecast
		want string
	}{
		{Forecast{CanSay: true, Low: 412, Median: 1238, High: 12345}, "About 1,240 h to the service limit, between 410 and 12,000 h."},
		{Forecast{CanSay: true, Low: 4120, Median: 12380, High: 99000, Capped: true}, "About 12,000 h to the service limit, between 4,120 and more than 99,000 h."},
		{Forecast{Beyond: true, CanSay: true}, "At or beyond the service limit now."},
		{Forecast{ReadAgainAfter: 81}, "Cannot say yet how long it will last; a reading after 90 more hours would."},
		{Forecast{}, "Cannot say yet how long it will last."},
	} {
		if got := c.f.Sentence(); got != c.want {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
}

func TestOneIn(t *testing.T) {
	for p, want := range map[float64]string{
		1: "1 in 1", 0.3: "1 in 3.3", 0.0994: "1 in 10", 0.004: "1 in 250", 0.0002468: "1 in 4,100",
		1.01e-6: "1 in 990,000", 1e-6: "less than 1 in 1,000,000", 0: "less than 1 in 1,000,000",
	} {
		if got := OneIn(p); got != want {
			t.Errorf("OneIn(%g) = %q, want %q", p, got, want)
		}
	}
}

func TestStateString(t *testing.T) {
	if got := Flagged.String() + ", " + NoReference.String() + ", " + State(99).String(); got != "flagged, no verdict, unknown" {
		t.Error(got)
	}
}
