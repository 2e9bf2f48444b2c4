package store

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// Rods are the lengths of a radial's crank and rods, between centres.
type Rods struct {
	CrankRadius, MasterRod wear.Value
	KnuckleRadius, LinkRod wear.Value // knuckle pin from the crankpin, and the link rod on it
	PinToCrown, BelowCrown wear.Value // piston pin to crown; crown to the lower side of the lowest ring
	SkirtEnd               wear.Value // crank's centre to where the barrel's bore ends
	LinkRods               []LinkRod  // where a cylinder differs
	ListMaster             int        // position of the master-rod cylinder that LinkRods are told for; 0 without them
}

// LinkRod is a cylinder whose knuckle pin or link rod differs from the others';
// 0 where one does not.
type LinkRod struct {
	Position      int
	KnuckleRadius wear.Value
	KnuckleAngle  float64 // degrees, seen from the crankpin, from the master rod's own line the way the crank turns
	Length        wear.Value
}

// readLinkRods reads link rods as they are stored.
func readLinkRods(list string) ([]LinkRod, error) {
	var ls []LinkRod
	for _, item := range splitList(list) {
		var l LinkRod
		if _, err := fmt.Sscan(item, &l.Position, &l.KnuckleRadius, &l.KnuckleAngle, &l.Length); err != nil {
			return nil, fmt.Errorf("%q: %w", item, err)
		}
		if math.IsNaN(l.KnuckleAngle) || math.IsInf(l.KnuckleAngle, 0) {
			return nil, fmt.Errorf("%q: %w", item, wear.ErrNotFinite)
		}
		ls = append(ls, l)
	}
	return ls, nil
}

func joinLinkRods(ls []LinkRod) string {
	items := make([]string, len(ls))
	for i, l := range ls {
		items[i] = fmt.Sprintf("%d %d %s %d", l.Position, l.KnuckleRadius, strconv.FormatFloat(l.KnuckleAngle, 'f', -1, 64), l.Length)
	}
	return strings.Join(items, ",")
}

// Own is where the cylinder at a position differs, in an engine of so many
// cylinders with its master rod at master. Link rods go with the master rod: where that
// sits in another cylinder than the list is told for, each stands as many
// positions after it as it does there.
func (r Rods) Own(position, master, cylinders int) (LinkRod, bool) {
	after := position - master + cylinders
	for _, l := range r.LinkRods {
		if (l.Position-r.ListMaster+cylinders)%cylinders == after%cylinders {
			return l, true
		}
	}
	return LinkRod{}, false
}

// Row is the row of rods of an engine whose cylinders, all in one row, have
// these places; a knuckle pin of which no angle is typed lies under its own
// cylinder.
func (r Rods) Row(places []wear.CrankPlace, master int) wear.RodRow {
	row := wear.RodRow{Crank: r.CrankRadius, MasterRod: r.MasterRod, Master: master}
	main := 0.0
	for _, c := range places {
		if c.Position == master {
			main = c.Angle
		}
	}
	for _, c := range places {
		rod := wear.RodCylinder{Position: c.Position, Axis: c.Angle, KnuckleRadius: r.KnuckleRadius, KnuckleAngle: c.Angle - main, LinkRod: r.LinkRod}
		if own, ok := r.Own(c.Position, master, len(places)); ok {
			if own.KnuckleRadius != 0 {
				rod.KnuckleRadius = own.KnuckleRadius
			}
			if own.KnuckleAngle != 0 {
				rod.KnuckleAngle = own.KnuckleAngle
			}
			if own.Length != 0 {
				rod.LinkRod = own.Length
			}
		}
		row.Cylinders = append(row.Cylinders, rod)
	}
	return row
}

// mostRod is 1 m.
const mostRod = 1_000_000_000

// farFromOthers is by how much a knuckle radius or a link rod can differ from
// the others of its row. A choice without a source: makers move dead centres by
// some hundredths.
const farFromOthers = 0.25

// farFromCylinder is how many degrees a knuckle pin can lie off its own
// cylinder: one that brings top dead centre right lies arcsin((r/L) sin α) off, by
// no more than 18°, and the next cylinder stands 32° away or more. A choice
// without a source.
const farFromCylinder = 25

// CheckRods says, as Invalid, which lengths of a model's crank and rods cannot
// be: each is blank or up to 1 m, rods are longer than what they turn on, a
// knuckle pin lies near its own cylinder, and link rods reach their cylinders
// all round the turn. What differs by cylinder has its
// position in the field: link_rod-3.
func (m Model) CheckRods() error {
	r := m.Rods
	var bad Invalid
	fault := func(field, message string, args ...any) {
		bad = append(bad, FieldError{Field: field, Message: fmt.Sprintf(message, args...)})
	}
	for _, x := range []struct {
		field string
		v     wear.Value
	}{{"crank_radius", r.CrankRadius}, {"master_rod", r.MasterRod}, {"knuckle_radius", r.KnuckleRadius}, {"link_rod", r.LinkRod}, {"pin_to_crown", r.PinToCrown}, {"below_crown", r.BelowCrown}, {"skirt_end", r.SkirtEnd}} {
		if x.v < 0 || x.v > mostRod {
			fault(x.field, "a length from 0 to 1 m")
		}
	}
	if r.MasterRod != 0 && r.MasterRod <= r.CrankRadius {
		fault("master_rod", "a rod is longer than the crank radius")
	}
	if r.LinkRod != 0 && r.MasterRod != 0 && r.LinkRod >= r.MasterRod {
		fault("link_rod", "a link rod is shorter than the master rod")
	}
	if len(r.LinkRods) > 0 && (r.ListMaster < 1 || r.ListMaster > m.Cylinders) {
		fault("list_master", "say which cylinder has the master rod: knuckle angles count from it")
	} else {
		for _, l := range r.LinkRods {
			m.checkLinkRod(l, fault)
		}
	}
	if len(bad) == 0 {
		m.checkReach(fault)
	}
	return bad.orNil()
}

// checkLinkRod finds what is wrong with one cylinder of the list.
func (m Model) checkLinkRod(l LinkRod, fault func(field, message string, args ...any)) {
	r := m.Rods
	at := func(name string) string { return name + "-" + strconv.Itoa(l.Position) }
	if l.Position < 1 || l.Position > m.Cylinders {
		fault(at("link_rod"), "%d is no position: the engine has 1 to %d", l.Position, m.Cylinders)
		return
	}
	if l.Position == r.ListMaster {
		for _, x := range []struct {
			name  string
			typed bool
		}{{"knuckle_radius", l.KnuckleRadius != 0}, {"knuckle_angle", l.KnuckleAngle != 0}, {"link_rod", l.Length != 0}} {
			if x.typed {
				fault(at(x.name), "position %d has the master rod: it has no link rod", l.Position)
			}
		}
		return
	}
	for _, x := range []struct {
		name      string
		v, others wear.Value
	}{{"knuckle_radius", l.KnuckleRadius, r.KnuckleRadius}, {"link_rod", l.Length, r.LinkRod}} {
		switch {
		case x.v < 0 || x.v > mostRod:
			fault(at(x.name), "a length from 0 to 1 m")
		case x.name == "link_rod" && x.v != 0 && r.MasterRod != 0 && x.v >= r.MasterRod:
			fault(at(x.name), "a link rod is shorter than the master rod")
		case x.v != 0 && x.others > 0 && math.Abs(float64(x.v-x.others)) > farFromOthers*float64(x.others):
			fault(at(x.name), "more than a quarter off that of the other cylinders: is the decimal point right?")
		}
	}
	if l.KnuckleAngle == 0 {
		return
	}
	if l.KnuckleAngle < 0 || l.KnuckleAngle >= 360 {
		fault(at("knuckle_angle"), "an angle from 0° to 360°, counted from the master rod the way the crank turns")
		return
	}
	places, err := m.oneRow(r.ListMaster)
	if err != nil {
		return
	}
	after := places[l.Position-1].Angle - places[r.ListMaster-1].Angle
	if math.Abs(math.Remainder(l.KnuckleAngle-after, 360)) > farFromCylinder {
		fault(at("knuckle_angle"), "more than %d° off its cylinder, which stands %s° after the master rod: count the angle from the master rod the way the crank turns",
			farFromCylinder, strconv.FormatFloat(math.Round(10*math.Mod(after+360, 360))/10, 'f', -1, 64))
	}
}

// OneRow reports whether link rods can differ by cylinder: two rows are not
// reckoned.
func (m Model) OneRow() bool {
	return (m.Arrangement == "radial" || m.Arrangement == "") && m.Turning.Rows != 2
}

// oneRow are the places of the model's cylinders in one row.
func (m Model) oneRow(master int) ([]wear.CrankPlace, error) {
	return wear.RadialPlaces(m.Cylinders, 1, []int{master}, m.Turning.Anticlockwise)
}

// checkReach finds link rods that do not reach their cylinders somewhere in the
// turn, once all lengths are typed. Of what is the same for all one is named.
func (m Model) checkReach(fault func(field, message string, args ...any)) {
	r, master := m.Rods, max(m.Rods.ListMaster, 1)
	places, err := m.oneRow(master)
	if err != nil || !m.OneRow() {
		return
	}
	row, said := r.Row(places, master), map[string]bool{}
	if row.Crank == 0 || row.MasterRod == 0 {
		return
	}
	for _, c := range row.Cylinders {
		if c.Position == master || c.KnuckleRadius == 0 || c.LinkRod == 0 {
			continue
		}
		two := row
		two.Cylinders = []wear.RodCylinder{row.Cylinders[master-1], c}
		if !errors.Is(two.Check(), wear.ErrLinkShort) {
			continue
		}
		field := "link_rod"
		own, _ := r.Own(c.Position, master, m.Cylinders)
		switch {
		case own.Length != 0:
			field += "-" + strconv.Itoa(c.Position)
		case own.KnuckleRadius != 0:
			field = "knuckle_radius-" + strconv.Itoa(c.Position)
		}
		if !said[field] {
			said[field] = true
			fault(field, "the link rod of position %d does not reach its cylinder all round the turn", c.Position)
		}
	}
}

// SaveRods keeps the lengths of a model's crank and rods.
func (b *Book) SaveRods(ctx context.Context, model int64, r Rods) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		m, err := findModel(ctx, t, model)
		if err != nil {
			return err
		}
		m.Rods = r
		if err := m.CheckRods(); err != nil {
			return err
		}
		_, err = t.ExecContext(ctx, "UPDATE model SET crank_radius = ?, master_rod = ?, knuckle_radius = ?, link_rod = ?, pin_to_crown = ?, below_crown = ?, skirt_end = ?, link_rods = ?, link_rods_master = ? WHERE id = ?",
			r.CrankRadius, r.MasterRod, r.KnuckleRadius, r.LinkRod, r.PinToCrown, r.BelowCrown, r.SkirtEnd, joinLinkRods(r.LinkRods), r.ListMaster, model)
		if err != nil {
			return fmt.Errorf("save rods: %w", err)
		}
		return nil
	})
}
