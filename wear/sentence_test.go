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
	} {
		if got := c.j.Sentence("installation"); got != c.want {
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
