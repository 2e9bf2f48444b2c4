package store

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// Turning is how a model's crank brings its cylinders up, as the shop typed it
// from the maker's manual. Lists are of positions, empty where not typed.
type Turning struct {
	Rows              int // of cylinders: 1, or 2 for a two-row radial
	Anticlockwise     bool
	Firing            []int
	OrderOff, OrderOn []int // the maker's
}

func (u *Turning) read(lists modelLists) (err error) {
	for _, x := range []struct {
		list string
		to   *[]int
	}{{lists.firing, &u.Firing}, {lists.off, &u.OrderOff}, {lists.on, &u.OrderOn}} {
		if *x.to, err = readPositions(x.list); err != nil {
			return fmt.Errorf("read order of model: %w", err)
		}
	}
	return nil
}

func readPositions(list string) ([]int, error) {
	var ps []int
	for _, item := range splitList(list) {
		p, err := strconv.Atoi(item)
		if err != nil {
			return nil, err
		}
		ps = append(ps, p)
	}
	return ps, nil
}

func joinPositions(ps []int) string {
	items := make([]string, len(ps))
	for i, p := range ps {
		items[i] = strconv.Itoa(p)
	}
	return strings.Join(items, ",")
}

// Check says, as Invalid, what is wrong with orders for so many cylinders:
// each that is typed has every position once.
func (u Turning) Check(cylinders int) error {
	var bad Invalid
	if u.Rows != 1 && u.Rows != 2 {
		bad = append(bad, FieldError{Field: "rows", Message: "one or two rows"})
	}
	if u.Rows == 2 && cylinders%2 != 0 {
		bad = append(bad, FieldError{Field: "rows", Message: fmt.Sprintf("%d cylinders do not make two rows", cylinders)})
	}
	for _, x := range []struct {
		field string
		order []int
	}{{"firing", u.Firing}, {"order_off", u.OrderOff}, {"order_on", u.OrderOn}} {
		if len(x.order) > 0 && !eachOnce(x.order, cylinders) {
			bad = append(bad, FieldError{Field: x.field, Message: fmt.Sprintf("every position from 1 to %d once, with commas between", cylinders)})
		}
	}
	return bad.orNil()
}

func eachOnce(order []int, n int) bool {
	sorted := slices.Sorted(slices.Values(order))
	for i, p := range sorted {
		if p != i+1 {
			return false
		}
	}
	return len(sorted) == n
}

// SaveTurning keeps how a model's crank brings its cylinders up, with the
// spread of weights its pistons may have and the hours between overhauls.
func (b *Book) SaveTurning(ctx context.Context, model int64, u Turning, spread wear.Value, overhaul wear.Hours) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		m, err := findModel(ctx, t, model)
		if err != nil {
			return err
		}
		if err := u.Check(m.Cylinders); err != nil {
			return err
		}
		_, err = t.ExecContext(ctx, "UPDATE model SET rows = ?, anticlockwise = ?, firing = ?, order_off = ?, order_on = ?, weight_spread = ?, overhaul = ? WHERE id = ?",
			u.Rows, u.Anticlockwise, joinPositions(u.Firing), joinPositions(u.OrderOff), joinPositions(u.OrderOn), spread, overhaul, model)
		if err != nil {
			return fmt.Errorf("save orders of model: %w", err)
		}
		return nil
	})
}

// CrankPlaces are the crank angles of an engine's positions: of a radial from
// the way its cylinders stand, of others from the firing order of the model.
// Where neither is known, known is false and only the positions are.
func (e Engine) CrankPlaces() (places []wear.CrankPlace, known bool) {
	u := e.Model.Turning
	if e.Arrangement == "radial" {
		masters := e.Masters()
		if u.Rows != 2 {
			masters = masters[:min(1, len(masters))]
		}
		if places, err := wear.RadialPlaces(e.Cylinders, max(u.Rows, 1), masters, u.Anticlockwise); err == nil {
			return places, true
		}
	} else if len(u.Firing) == e.Cylinders {
		if places, err := wear.FiringPlaces(u.Firing); err == nil {
			return places, true
		}
	}
	for n := 1; n <= e.Cylinders; n++ {
		places = append(places, wear.CrankPlace{Position: n, Row: 1 + (n-1)%max(u.Rows, 1), Master: slices.Contains(e.Masters(), n)})
	}
	return places, false
}

// Masters are the positions of the engine's master-rod cylinders.
func (e Engine) Masters() []int {
	var ms []int
	for _, m := range []int{e.MasterRod, e.FrontMaster} {
		if m > 0 {
			ms = append(ms, m)
		}
	}
	return ms
}
