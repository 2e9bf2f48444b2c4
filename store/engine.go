package store

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// Arrangements of cylinders that an engine can have.
var Arrangements = []string{"radial", "flat", "inline", "V"}

// Model is an engine model with its measuring plan: how many ring grooves its
// pistons have, at which stations and axes its barrels are measured, and what
// they can be ground to. Lengths that the shop has not typed are 0.
type Model struct {
	ID          int64
	Name        string
	Arrangement string
	Cylinders   int
	Grooves     int
	Stations    []string
	Axes        []string
	Oversizes   []wear.Value // over standard
	Family      string       // models of one family can be compared with each other
	CleanUp     wear.Value   // on the diameter, for a cut to clean up
	Rods        Rods
	Turning     Turning
	Spread      wear.Value // of piston weights in one engine, 0 where not typed
	Overhaul    wear.Hours // between overhauls, 0 where not typed
}

// Engine is one engine. Hours are those of the latest meter entry, in total.
type Engine struct {
	ID          int64
	Serial      string
	Model       Model
	Arrangement string
	Cylinders   int
	MasterRod   int // position of the master-rod cylinder, of two rows that of the rear one; 0 for none
	FrontMaster int // position of the front row's master-rod cylinder, 0 for none
	Aircraft    string
	Notes       string
	Hours       wear.Hours
	Offset      wear.Hours // what is added to what the meter shows
	HoursDay    wear.Day   // day of that entry, empty where there is none
}

const modelColumns = "m.id, m.name, m.arrangement, m.cylinders, m.grooves, m.family, m.clean_up, m.crank_radius, m.master_rod, m.knuckle_radius, m.link_rod, m.pin_to_crown, m.below_crown, m.skirt_end, m.rows, m.anticlockwise, m.weight_spread, m.overhaul, m.stations, m.axes, m.oversizes, m.firing, m.order_off, m.order_on, m.link_rods_master, m.link_rods"

// modelLists are a model's lists as they are stored.
type modelLists struct{ stations, axes, oversizes, firing, off, on, linkRods string }

func modelTargets(m *Model, lists *modelLists) []any {
	return []any{&m.ID, &m.Name, &m.Arrangement, &m.Cylinders, &m.Grooves, &m.Family, &m.CleanUp, &m.Rods.CrankRadius, &m.Rods.MasterRod, &m.Rods.KnuckleRadius, &m.Rods.LinkRod,
		&m.Rods.PinToCrown, &m.Rods.BelowCrown, &m.Rods.SkirtEnd, &m.Turning.Rows, &m.Turning.Anticlockwise, &m.Spread, &m.Overhaul, &lists.stations, &lists.axes, &lists.oversizes, &lists.firing, &lists.off, &lists.on, &m.Rods.ListMaster, &lists.linkRods}
}

func (m *Model) read(lists modelLists) error {
	m.Stations, m.Axes = splitList(lists.stations), splitList(lists.axes)
	for _, item := range splitList(lists.oversizes) {
		nm, err := strconv.ParseInt(item, 10, 64)
		if err != nil {
			return fmt.Errorf("read oversizes of model: %w", err)
		}
		m.Oversizes = append(m.Oversizes, wear.Value(nm))
	}
	var err error
	if m.Rods.LinkRods, err = readLinkRods(lists.linkRods); err != nil {
		return fmt.Errorf("read link rods of model: %w", err)
	}
	return m.Turning.read(lists)
}

func scanModel(r scanner, m *Model) error {
	var lists modelLists
	if err := r.Scan(modelTargets(m, &lists)...); err != nil {
		return err
	}
	return m.read(lists)
}

// splitList reads a comma-separated list, without blanks or empty items.
func splitList(s string) []string {
	var items []string
	for _, item := range strings.Split(s, ",") {
		if item = strings.TrimSpace(item); item != "" {
			items = append(items, item)
		}
	}
	return items
}

// Models lists the engine models by name.
func (b *Book) Models(ctx context.Context) ([]Model, error) {
	return list(ctx, b.read, scanModel, "SELECT "+modelColumns+" FROM model m ORDER BY m.name")
}

// Model finds an engine model.
func (b *Book) Model(ctx context.Context, id int64) (Model, error) { return findModel(ctx, b.read, id) }

func findModel(ctx context.Context, q querier, id int64) (Model, error) {
	m, err := one(ctx, q, scanModel, "SELECT "+modelColumns+" FROM model m WHERE m.id = ?", id)
	if err != nil {
		return m, fmt.Errorf("find engine model: %w", err)
	}
	return m, nil
}

// mostOversize is 0.1 in: more is a slip.
const mostOversize = 2_540_000

// Check says, as Invalid, all that is wrong with a model's measuring plan.
func (m Model) Check() error {
	var bad Invalid
	if m.Grooves < 0 || m.Grooves > 8 {
		bad = append(bad, FieldError{Field: "grooves", Message: "a number of ring grooves from 0 to 8"})
	}
	if len(m.Stations) > 12 {
		bad = append(bad, FieldError{Field: "stations", Message: "at most 12 stations"})
	}
	if len(m.Axes) > 6 {
		bad = append(bad, FieldError{Field: "axes", Message: "at most 6 axes"})
	}
	for _, names := range []struct {
		field string
		list  []string
	}{{"stations", m.Stations}, {"axes", m.Axes}} {
		for i, name := range names.list {
			if slices.ContainsFunc(names.list[:i], func(s string) bool { return strings.EqualFold(s, name) }) {
				bad = append(bad, FieldError{Field: names.field, Message: fmt.Sprintf("%s is there twice", name)})
				break
			}
		}
	}
	if len(m.Oversizes) > 12 {
		bad = append(bad, FieldError{Field: "oversizes", Message: "at most 12 oversizes"})
	}
	for _, o := range m.Oversizes {
		if o <= 0 || o > mostOversize {
			bad = append(bad, FieldError{Field: "oversizes", Message: "an oversize is more than 0 and at most 0.1 in (2.54 mm)"})
			break
		}
	}
	if m.CleanUp < 0 || m.CleanUp > mostOversize {
		bad = append(bad, FieldError{Field: "clean_up", Message: "0 or more, at most 0.1 in (2.54 mm)"})
	}
	return bad.orNil()
}

// SaveModel keeps a model's measuring plan.
func (b *Book) SaveModel(ctx context.Context, m Model) error {
	if err := m.Check(); err != nil {
		return err
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		_, err := t.ExecContext(ctx, "UPDATE model SET grooves = ?, family = ?, stations = ?, axes = ?, oversizes = ?, clean_up = ? WHERE id = ?",
			m.Grooves, strings.TrimSpace(m.Family), strings.Join(m.Stations, ","), strings.Join(m.Axes, ","), joinValues(m.Oversizes), m.CleanUp, m.ID)
		if err != nil {
			return fmt.Errorf("save model: %w", err)
		}
		return touchMeasured(ctx, t, "feature_id IN (SELECT feature_id FROM wider WHERE models = 1)")
	})
}

func joinValues(vs []wear.Value) string {
	items := make([]string, len(vs))
	for i, v := range vs {
		items[i] = strconv.FormatInt(int64(v), 10)
	}
	return strings.Join(items, ",")
}

// ensureModel finds a model by name, making it where the book has none.
func ensureModel(ctx context.Context, t *tx, name, arrangement string, cylinders int) (id int64, made bool, err error) {
	name = strings.TrimSpace(name)
	m, err := one(ctx, t, scanModel, "SELECT "+modelColumns+" FROM model m WHERE m.name = ?", name)
	if err == nil {
		return m.ID, false, nil
	}
	if err != ErrNotFound {
		return 0, false, fmt.Errorf("find engine model: %w", err)
	}
	id, err = t.insert(ctx, "INSERT INTO model (name, arrangement, cylinders) VALUES (?, ?, ?)", name, arrangement, cylinders)
	if err != nil {
		return 0, false, fmt.Errorf("add engine model: %w", err)
	}
	return id, true, nil
}

const engineQuery = `SELECT e.id, e.serial, e.arrangement, e.cylinders, coalesce(e.master_rod, 0), coalesce(e.front_master_rod, 0), e.aircraft, e.notes, ` + modelColumns + `,
	coalesce(n.shows + n.offset, 0), coalesce(n.offset, 0), coalesce(n.day, '')
	FROM engine e JOIN model m ON m.id = e.model_id
	LEFT JOIN meter n ON n.id = (SELECT x.id FROM meter_now x WHERE x.engine_id = e.id ORDER BY x.day DESC, x.hours DESC, coalesce(x.ahead_of, x.root) DESC, x.kind DESC LIMIT 1)`

func scanEngine(r scanner, e *Engine) error {
	var lists modelLists
	to := []any{&e.ID, &e.Serial, &e.Arrangement, &e.Cylinders, &e.MasterRod, &e.FrontMaster, &e.Aircraft, &e.Notes}
	to = append(to, modelTargets(&e.Model, &lists)...)
	if err := r.Scan(append(to, &e.Hours, &e.Offset, &e.HoursDay)...); err != nil {
		return err
	}
	return e.Model.read(lists)
}

// Engine finds an engine by its id.
func (b *Book) Engine(ctx context.Context, id int64) (Engine, error) {
	return findEngine(ctx, b.read, id)
}

func findEngine(ctx context.Context, q querier, id int64) (Engine, error) {
	e, err := one(ctx, q, scanEngine, engineQuery+" WHERE e.id = ?", id)
	if err != nil {
		return e, fmt.Errorf("find engine: %w", err)
	}
	return e, nil
}

// EnginesBySerial finds the engines with a serial number, one a model.
func (b *Book) EnginesBySerial(ctx context.Context, serial string) ([]Engine, error) {
	return list(ctx, b.read, scanEngine, engineQuery+" WHERE e.serial = ? ORDER BY m.name", strings.TrimSpace(serial))
}

// Engines lists engines whose serial, model or aircraft contains the words,
// by aircraft and serial, and says how many there are in all.
func (b *Book) Engines(ctx context.Context, words string, limit, offset int) ([]Engine, int, error) {
	where, args := engineFilter(words)
	var total int
	err := b.read.QueryRowContext(ctx, "SELECT count(*) FROM engine e JOIN model m ON m.id = e.model_id"+where, args...).Scan(&total)
	if err != nil {
		return nil, 0, fmt.Errorf("count engines: %w", err)
	}
	const order = " ORDER BY e.aircraft, m.name, e.serial"
	es, err := list(ctx, b.read, scanEngine, engineQuery+" WHERE e.id IN (SELECT e.id FROM engine e JOIN model m ON m.id = e.model_id"+where+order+" LIMIT ? OFFSET ?)"+order, append(args, limit, offset)...)
	if err != nil {
		return nil, 0, fmt.Errorf("list engines: %w", err)
	}
	return es, total, nil
}

func engineFilter(words string) (string, []any) {
	if words = strings.TrimSpace(words); words == "" {
		return "", nil
	}
	like := likeWords(words)
	return ` WHERE (e.serial LIKE ? ESCAPE '\' OR m.name LIKE ? ESCAPE '\' OR e.aircraft LIKE ? ESCAPE '\')`, []any{like, like, like}
}

// likeWords makes a LIKE pattern that finds the words anywhere.
func likeWords(words string) string {
	return "%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(words) + "%"
}

// NewEngine is what a person gives to make an engine; Shows and Day are its
// first meter reading.
type NewEngine struct {
	Serial, Model, Arrangement, Aircraft, Notes string
	Cylinders, MasterRod                        int
	FrontMaster                                 int // of a two-row radial
	Day                                         wear.Day
	Shows                                       wear.Hours
}

func (n *NewEngine) trim() {
	n.Serial, n.Model = strings.TrimSpace(n.Serial), strings.TrimSpace(n.Model)
}

// Check says, as Invalid, all that is wrong with an engine as it is given, the
// rest of the book left aside.
func (n NewEngine) Check() error {
	n.trim()
	bad := append(tooLong(MostName, "serial", n.Serial, "model", n.Model, "aircraft", n.Aircraft), tooLong(mostText, "notes", n.Notes)...)
	if n.Serial == "" {
		bad = append(bad, FieldError{Field: "serial", Message: "give the engine's serial number"})
	}
	if n.Model == "" {
		bad = append(bad, FieldError{Field: "model", Message: "give the engine's model"})
	}
	known := false
	for _, a := range Arrangements {
		known = known || a == n.Arrangement
	}
	if !known {
		bad = append(bad, FieldError{Field: "arrangement", Message: "choose radial, flat, inline or V"})
	}
	if n.Cylinders < 1 || n.Cylinders > 36 {
		bad = append(bad, FieldError{Field: "cylinders", Message: "a number of cylinders from 1 to 36"})
	}
	switch {
	case n.MasterRod != 0 && n.Arrangement != "radial":
		bad = append(bad, FieldError{Field: "master_rod", Message: "only a radial engine has a master-rod cylinder"})
	case n.MasterRod < 0 || n.Cylinders > 0 && n.MasterRod > n.Cylinders:
		bad = append(bad, FieldError{Field: "master_rod", Message: "the master-rod cylinder is one of the engine's cylinders"})
	}
	if message := n.wrongFront(); message != "" {
		bad = append(bad, FieldError{Field: "front_master_rod", Message: message})
	}
	return bad.orNil()
}

// wrongFront says what is wrong with the front row's master rod. Rows are
// numbered as FAA-H-8083-32 numbers them: odd in the rear, even in front.
func (n NewEngine) wrongFront() string {
	switch f := n.FrontMaster; {
	case f == 0:
		return ""
	case n.MasterRod == 0:
		return "give the rear row's master-rod cylinder too"
	case f < 0 || f > n.Cylinders || n.Cylinders%2 != 0:
		return "the front row's master-rod cylinder is one of an even number of cylinders"
	case f%2 == n.MasterRod%2:
		return "the rear row has the odd positions, the front row the even ones: one master rod in each"
	}
	return ""
}

// AddEngine makes an engine, and its model where that is new.
func (b *Book) AddEngine(ctx context.Context, n NewEngine) (id int64, err error) {
	n.trim()
	if err := n.Check(); err != nil {
		return 0, err
	}
	if n.Day == "" {
		return 0, invalid("day", "give the date of the meter reading")
	}
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		if bad := t.happened(n.Day); len(bad) > 0 {
			return bad
		}
		if id, err = addEngine(ctx, t, n); err != nil {
			return err
		}
		_, err = addMeter(ctx, t, id, n.Day, n.Shows)
		return err
	})
	return id, err
}

func addEngine(ctx context.Context, t *tx, n NewEngine) (int64, error) {
	model, _, err := ensureModel(ctx, t, n.Model, n.Arrangement, n.Cylinders)
	if err != nil {
		return 0, err
	}
	id, err := t.insert(ctx, `INSERT INTO engine (model_id, serial, arrangement, cylinders, master_rod, front_master_rod, aircraft, notes, saved_at)
		VALUES (?, ?, ?, ?, nullif(?, 0), nullif(?, 0), ?, ?, ?)`, model, n.Serial, n.Arrangement, n.Cylinders, n.MasterRod, n.FrontMaster, n.Aircraft, n.Notes, t.at)
	if isUnique(err) {
		return 0, invalid("serial", "the book already has a %s with serial %s", n.Model, n.Serial)
	}
	if err != nil {
		return 0, fmt.Errorf("add engine: %w", err)
	}
	return id, nil
}

// SaveEngine changes an engine's description. Its model stays, and it cannot
// lose positions that parts sat in.
func (b *Book) SaveEngine(ctx context.Context, id int64, n NewEngine) error {
	n.trim()
	if err := n.Check(); err != nil {
		return err
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		var highest int
		if err := t.QueryRowContext(ctx, "SELECT coalesce(max(position), 0) FROM stay WHERE engine_id = ? AND void = ''", id).Scan(&highest); err != nil {
			return fmt.Errorf("read positions: %w", err)
		}
		if n.Cylinders < highest {
			return invalid("cylinders", "parts are recorded at position %d, so the engine has at least %d cylinders", highest, highest)
		}
		_, err := t.ExecContext(ctx, `UPDATE engine SET serial = ?, arrangement = ?, cylinders = ?, master_rod = nullif(?, 0), front_master_rod = nullif(?, 0), aircraft = ?, notes = ?, saved_at = ? WHERE id = ?`,
			n.Serial, n.Arrangement, n.Cylinders, n.MasterRod, n.FrontMaster, n.Aircraft, n.Notes, t.at, id)
		if isUnique(err) {
			return invalid("serial", "the book already has a %s with serial %s", n.Model, n.Serial)
		}
		if err != nil {
			return fmt.Errorf("save engine: %w", err)
		}
		return nil
	})
}
