package main

import (
	"math"

	"barrelbook/store"
	"barrelbook/wear"
)

// leakTester is the demo shop's differential compression tester.
const leakTester = "Leak tester 1"

// weakPosition of the first radial leaks more at each test.
const weakPosition = 6

// demoLeakTest is a test of the first radial: what each cylinder would hold of
// 80 psi through the large orifice, whichever one the test was made with.
type demoLeakTest struct {
	ago     int
	orifice wear.Value
	held    [9]wear.PSI
	recheck wear.PSI // of the weak cylinder, through the large orifice; 0 for none
	who     string
	master  wear.PSI
	note    string
}

var demoLeakTests = []demoLeakTest{
	{610, wear.LargeOrifice, [9]wear.PSI{770, 760, 770, 740, 760, 750, 770, 760, 770}, 0, "mechanic 1", 430, ""},
	{330, wear.SmallOrifice, [9]wear.PSI{770, 760, 765, 735, 760, 690, 765, 760, 765}, 0, "mechanic 2", 430, "the tester with the small orifice was on loan"},
	{24, wear.LargeOrifice, [9]wear.PSI{760, 760, 760, 780, 750, 570, 760, 750, 760}, 580, "mechanic 1", 430, ""},
}

// testLeaks saves the demo's leak tests and types an invented rule of the
// maker.
func (d *demo) testLeaks() error {
	minimum, orifice, regulated := wear.PSI(600), wear.LargeOrifice, wear.UsualRegulated
	err := d.book.AddLeakRule(d.ctx, store.LeakRule{Model: d.radial.id, Minimum: &minimum, Orifice: &orifice, Unit: wear.Inch, Regulated: &regulated, Document: "Invented manual, for the demonstration only", Revision: "A", Page: "31"})
	if err != nil {
		return err
	}
	for _, t := range demoLeakTests {
		if err := d.testLeak(d.engines[0], t); err != nil {
			return err
		}
	}
	return nil
}

func (d *demo) testLeak(e *demoEngine, t demoLeakTest) error {
	shows, minutes := e.shows(t.ago), 14
	n := store.NewLeakTest{LeakTest: store.LeakTest{Engine: e.id, Day: d.ago(t.ago), Who: t.who, Regulated: wear.UsualRegulated, Orifice: t.orifice, Unit: wear.Inch, Master: &t.master, Gauge: d.gauges[leakTester].ID, Minutes: &minutes, Note: t.note}, Shows: &shows}
	for i, held := range t.held {
		if i == e.model.cylinders {
			break
		}
		r := store.NewLeakReading{Position: i + 1}
		var err error
		if r.Reading, err = through(held, t.orifice); err != nil {
			return err
		}
		if i+1 == weakPosition && t.recheck != 0 {
			warm, err := through(t.recheck, t.orifice)
			if err != nil {
				return err
			}
			r.Recheck, r.Heard = &warm, []wear.AirHeard{wear.AirAtExhaust}
		}
		n.Readings = append(n.Readings, r)
	}
	_, err := d.book.SaveLeakTest(d.ctx, n)
	return err
}

// through is what a cylinder that holds so much through the large orifice
// holds through another, as read off a gauge.
func through(held wear.PSI, orifice wear.Value) (wear.PSI, error) {
	if orifice == wear.LargeOrifice {
		return held, nil
	}
	leak, err := wear.LeakArea(wear.LeakTest{Reading: held, Orifice: wear.LargeOrifice})
	if err != nil {
		return 0, err
	}
	psi, err := leak.Through(orifice)
	return wear.PSI(10 * math.Round(psi)), err
}
