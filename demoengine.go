package main

import (
	"math"
	"math/rand/v2"
	"strings"

	"barrelbook/store"
	"barrelbook/wear"
)

// demoEngine is an engine with what sits on it now.
type demoEngine struct {
	id       int64
	number   int // the first digit of its parts' serials
	model    *demoModel
	start    int     // days ago, when it came out of overhaul
	first    float64 // total hours then
	yearly   float64 // hours a year
	offset   float64 // total hours less what the meter shows
	visits   []int   // days ago, when the whole engine was measured
	position map[int]*demoStack
	rand     *rand.Rand         // its own chances, nil for the demo's
	fast     map[string]float64 // features that wear so many times too fast on all its parts
}

// hours are the engine's total hours so many days ago, to a tenth; it flies
// more in summer.
func (e *demoEngine) hours(ago int) float64 {
	years := float64(e.start-ago) / 365
	return math.Round(10*(e.first+e.yearly*(years+0.04*math.Sin(2*math.Pi*years)))) / 10
}

// shows is what the meter shows at those hours.
func (e *demoEngine) shows(ago int) wear.Hours {
	return wear.Hours(math.Round(100 * (e.hours(ago) - e.offset)))
}

func (d *demo) addEngines() error {
	d.engines = []*demoEngine{
		{number: 1, model: d.radial, start: 1448, first: 3212.4, yearly: 190, visits: []int{1448, 1180, 890, 610, 330, 24}},
		{number: 2, model: d.radial, start: 1412, first: 1866.0, yearly: 165, visits: []int{1412, 1150, 845, 560, 290, 38}},
		{number: 3, model: d.flat, start: 1430, first: 1204.5, yearly: 130, visits: []int{1430, 1120, 800, 500, 260, 19}},
		{number: 4, model: d.radial, start: 1105, first: 2410.3, yearly: 175, visits: []int{1105, 820, 470, 31}, rand: rand.New(rand.NewPCG(demoSeed, 2)), fast: map[string]float64{"barrel bore": dusty}},
	}
	for i, n := range []store.NewEngine{
		{Serial: "R9-0417", Aircraft: "QQ-LKA", MasterRod: 5},
		{Serial: "R9-0388", Aircraft: "QQ-LKB", MasterRod: 5},
		{Serial: "F6-1120", Aircraft: "QQ-LKC"},
		{Serial: dustyEngine, Aircraft: "QQ-LKD", MasterRod: 5, Notes: "Flown from an unpaved strip."},
	} { // no state's aircraft are registered with a Q (from memory)
		n.Notes = strings.TrimSpace(n.Notes + " Invented engine, for the demonstration only.")
		if err := d.addEngine(d.engines[i], n); err != nil {
			return err
		}
	}
	return nil
}

func (d *demo) addEngine(e *demoEngine, n store.NewEngine) error {
	e.position = map[int]*demoStack{}
	n.Model, n.Arrangement, n.Cylinders = e.model.name, e.model.arrangement, e.model.cylinders
	n.Day, n.Shows = d.ago(e.start), e.shows(e.start)
	var err error
	if e.id, err = d.book.AddEngine(d.ctx, n); err != nil {
		return err
	}
	made, err := d.book.Engine(d.ctx, e.id)
	if err != nil {
		return err
	}
	e.model.id, e.model.stations, e.model.axes = made.Model.ID, made.Model.Stations, made.Model.Axes
	made.Model.Grooves = e.model.grooves
	made.Model.Oversizes, made.Model.CleanUp = []wear.Value{254_000, 381_000}, 50_800 // 0.010, 0.015 and 0.002 in
	if e.model.arrangement == "radial" {
		if err := d.book.SaveRods(d.ctx, made.Model.ID, radialRods); err != nil {
			return err
		}
	}
	return d.book.SaveModel(d.ctx, made.Model)
}

// radialRods are the invented radial's crank and rods: 2.75, 10.25, 2.55 and
// 7.7 in; piston pin 2.3 in below the crown, lowest ring 3.2 in, barrel from 6.3 in on.
// Beside the master rod the knuckle pins lie at 2.53 in and farther round, on
// link rods of 7.72 in.
var radialRods = store.Rods{CrankRadius: 69_850_000, MasterRod: 260_350_000, KnuckleRadius: 64_770_000, LinkRod: 195_580_000,
	PinToCrown: 58_420_000, BelowCrown: 81_280_000, SkirtEnd: 160_020_000, ListMaster: 5,
	LinkRods: []store.LinkRod{{Position: 4, KnuckleRadius: 64_262_000, KnuckleAngle: 312.5, Length: 196_088_000}, {Position: 6, KnuckleRadius: 64_262_000, KnuckleAngle: 47.5, Length: 196_088_000}}}
