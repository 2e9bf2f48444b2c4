package main

import (
	"cmp"
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"barrelbook/store"
	"barrelbook/wear"
)

// demoSeed makes every demo book the same but for its dates.
const demoSeed = 9046

// fillDemo fills an empty book with the demo scenario: an invented operator
// with three radials and a flat six, four years of sheets that end shortly
// before today, and parts of each fate. Everything in it is invented; only the
// order of magnitude of wear and gauge error follows common practice (no
// source). It writes through the store's public methods, as a shop would.
func fillDemo(ctx context.Context, b *store.Book, today wear.Day) error {
	d, err := newDemo(ctx, b, today)
	if err == nil {
		err = do(d.settings, d.addGauges, d.addFeatures, d.addFacings, d.addEngines, d.addPeople, d.addLimits, d.tell, d.saveSheets, d.testLeaks, d.afterwards, d.closeJob)
	}
	if err != nil {
		return fmt.Errorf("fill demo: %w", err)
	}
	return nil
}

// newDemo readies a demo whose past is counted back from today.
func newDemo(ctx context.Context, b *store.Book, today wear.Day) (*demo, error) {
	at, err := time.Parse(time.DateOnly, string(today))
	if err != nil {
		return nil, err
	}
	return &demo{ctx: ctx, book: b, today: at, rand: rand.New(rand.NewPCG(demoSeed, 0)), radial: radialModel(), flat: flatModel(),
		features: map[featureName]wear.Feature{}, gauges: map[string]store.Gauge{}, parts: map[string]*demoPart{}}, nil
}

// do takes steps until one fails.
func do(steps ...func() error) error {
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// demo is the book being filled, and what was done in it so far.
type demo struct {
	ctx      context.Context
	book     *store.Book
	today    time.Time
	rand     *rand.Rand
	radial   *demoModel
	flat     *demoModel
	features map[featureName]wear.Feature
	gauges   map[string]store.Gauge
	parts    map[string]*demoPart // by serial
	engines  []*demoEngine
	sheets   []demoSheet
	events   []demoEvent
}

type featureName struct {
	kind wear.Kind
	name string
}

// ago is the day so many days before today.
func (d *demo) ago(days int) wear.Day {
	return wear.Day(d.today.AddDate(0, 0, -days).Format(time.DateOnly))
}

// demoEvent is something that happened in the shop.
type demoEvent struct {
	ago int
	do  func() error
}

func (d *demo) on(ago int, do func() error) { d.events = append(d.events, demoEvent{ago, do}) }

// tell lets everything happen in its order.
func (d *demo) tell() error {
	d.plan()
	slices.SortStableFunc(d.events, func(a, b demoEvent) int { return cmp.Compare(b.ago, a.ago) })
	for _, e := range d.events {
		if err := e.do(); err != nil {
			return fmt.Errorf("%d days ago: %w", e.ago, err)
		}
	}
	return nil
}

func (d *demo) settings() error {
	s, err := d.book.Settings(d.ctx)
	if err != nil {
		return err
	}
	s.Shop, s.Unit, s.Demo = "Larkfield Air Works (invented)", wear.Inch, true
	return d.book.SaveSettings(d.ctx, s)
}

// The gauges of the demo shop; errors are of the size common practice expects
// (no source). The ring tester is past its calibration.
const (
	boreGauge   = "Bore gauge 2"
	micrometer  = "Outside micrometer 4"
	smallBore   = "Pin bore gauge"
	grooveGauge = "Groove gauge"
	feelers     = "Feeler set 1"
	ringTester  = "Ring force tester"
	springTest  = "Spring tester"
)

func (d *demo) addGauges() error {
	for _, g := range []struct {
		name     string
		unit     wear.Unit
		sd, step string
		due      int // days from today
	}{
		{boreGauge, wear.Inch, "0.0002", "0.0001", 210},
		{micrometer, wear.Inch, "0.0002", "0.0001", 140},
		{smallBore, wear.Inch, "0.0002", "0.0001", 210},
		{grooveGauge, wear.Inch, "0.0002", "0.0001", 95},
		{feelers, wear.Inch, "0.0003", "0.0005", 300},
		{ringTester, wear.Newton, "0.8", "0.5", -75},
		{springTest, wear.PoundForce, "0.4", "0.5", 30},
		{leakTester, store.Psi, "0.3", "0.5", 120},
	} {
		one := store.Gauge{Name: g.name, Unit: g.unit, Due: d.ago(-g.due)}
		var err error
		if one.SD, err = wear.ParseValue(g.sd, g.unit); err != nil {
			return err
		}
		if one.Resolution, err = wear.ParseValue(g.step, g.unit); err != nil {
			return err
		}
		if one.ID, err = d.book.SaveGauge(d.ctx, one); err != nil {
			return err
		}
		d.gauges[g.name] = one
	}
	return nil
}

// addFacings types the demo shop's list of ring facings.
func (d *demo) addFacings() error {
	for _, e := range []store.FacingEntry{
		{Facing: "plain cast iron", Surface: "nitrided", Says: store.FacingAllowed},
		{Facing: "plain cast iron", Surface: "chrome-plated", Says: store.FacingAllowed},
		{Facing: "hard chrome", Surface: "nitrided", Says: store.FacingAllowed},
		{Facing: "molybdenum", Surface: "nitrided", Says: store.FacingNotAllowed},
	} {
		e.Document = "Invented ring list of Halvorn, rev. 2, p. 3"
		if err := d.book.AddFacing(d.ctx, e); err != nil {
			return err
		}
	}
	return nil
}

// springForce is what the demo shop measures beside the built-in features.
const springForce = "valve spring force"

func (d *demo) addFeatures() error {
	if _, err := d.book.AddFeature(d.ctx, wear.Feature{Kind: wear.Cylinder, Name: springForce, Unit: wear.PoundForce.Name, Wear: wear.Down}); err != nil {
		return err
	}
	all, err := d.book.Features(d.ctx)
	for _, f := range all {
		d.features[featureName{f.Kind, f.Name}] = f
	}
	return err
}
