package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"barrelbook/wear"
)

// Words a part is described with. Surfaces are those of a barrel.
var (
	Sources  = []string{"new", "overhauled", "serviceable used"}
	Surfaces = []string{"plain steel", "nitrided", "through-hardened", "chrome-plated", "other plating"}
	Statuses = []string{"on engine", "on shelf", "scrapped"}

	// RingMaterials are those that package wear has force ratios for.
	RingMaterials = []string{string(wear.CastIronRing), string(wear.SGIronRing), string(wear.OtherMaterial)}
)

// Part is a serialised part. Lengths and weights are in base units.
type Part struct {
	ID             int64
	Kind           wear.Kind
	PartNumber     string
	Serial         string // or the shop's number
	ModelID        int64  // engine model it fits, 0 where not known
	Model          string
	Source         string
	Oversize       wear.Value
	Surface        string
	Facing         string
	Groove         int
	WidthClass     string
	Material       string // of a ring, empty where not recorded
	Modulus        int    // of a ring, N/mm², 0 where nobody typed it
	Weight         *wear.Value
	HoursBefore    wear.Hours  // since new, before it came here
	OverhaulBefore *wear.Hours // since overhaul, before it came here
	Status         string
	ScrapDay       wear.Day
	ScrapReason    string
	Note           string
	Verdict        wear.Verdict
	Flagged        bool
	LastDay        wear.Day // last measured
}

const partColumns = `p.id, p.kind, p.part_number, p.serial, coalesce(p.model_id, 0), coalesce((SELECT name FROM model WHERE id = p.model_id), ''), p.source, p.oversize, p.surface, p.facing,
	p.groove, p.width_class, p.material, coalesce(p.modulus, 0), p.weight, p.hours_before, p.overhaul_before, p.status, coalesce(p.scrap_day, ''), p.scrap_reason, p.note, p.verdict, p.state, p.last_day`

func partTargets(p *Part) []any {
	return []any{&p.ID, &p.Kind, &p.PartNumber, &p.Serial, &p.ModelID, &p.Model, &p.Source, &p.Oversize, &p.Surface, &p.Facing,
		&p.Groove, &p.WidthClass, &p.Material, &p.Modulus, &p.Weight, &p.HoursBefore, &p.OverhaulBefore, &p.Status, &p.ScrapDay, &p.ScrapReason, &p.Note, &p.Verdict, &p.Flagged, &p.LastDay}
}

func scanPart(r scanner, p *Part) error { return r.Scan(partTargets(p)...) }

// Part finds a part by its id.
func (b *Book) Part(ctx context.Context, id int64) (Part, error) { return findPart(ctx, b.read, id) }

func findPart(ctx context.Context, q querier, id int64) (Part, error) {
	p, err := one(ctx, q, scanPart, "SELECT "+partColumns+" FROM part p WHERE p.id = ?", id)
	if err != nil {
		return p, fmt.Errorf("find part: %w", err)
	}
	return p, nil
}

// PartsNamed finds the parts of a kind with a serial number; there is more
// than one only where part numbers differ.
func (b *Book) PartsNamed(ctx context.Context, kind wear.Kind, serial string) ([]Part, error) {
	return partsNamed(ctx, b.read, kind, serial)
}

func partsNamed(ctx context.Context, q querier, kind wear.Kind, serial string) ([]Part, error) {
	ps, err := list(ctx, q, scanPart, "SELECT "+partColumns+" FROM part p WHERE p.serial = ? AND p.kind = ? ORDER BY p.part_number", strings.TrimSpace(serial), kind)
	if err != nil {
		return nil, fmt.Errorf("find parts: %w", err)
	}
	return ps, nil
}

// PartFilter narrows a list of parts; zero values leave everything in.
type PartFilter struct {
	Words  string // in serial, part number or note
	Kind   wear.Kind
	Status string
	Model  int64
	Limit  int
	Offset int
}

// PartRow is a part in a list, with where it sits.
type PartRow struct {
	Part
	Engine   int64
	EngineNo string
	Position int
	AtGroove int
}

// Parts lists parts by kind and serial and says how many there are in all.
func (b *Book) Parts(ctx context.Context, f PartFilter) ([]PartRow, int, error) {
	var where []string
	var args []any
	add := func(clause string, values ...any) { where, args = append(where, clause), append(args, values...) }
	if f.Words = strings.TrimSpace(f.Words); f.Words != "" {
		like := likeWords(f.Words)
		add(`(p.serial LIKE ? ESCAPE '\' OR p.part_number <> '' AND p.part_number LIKE ? ESCAPE '\')`, like, like)
	}
	if f.Kind != "" {
		add("p.kind = ?", f.Kind)
	}
	if f.Status != "" {
		add("p.status = ?", f.Status)
	}
	if f.Model != 0 {
		add("(p.model_id = ? OR p.model_id IS NULL)", f.Model)
	}
	clause := ""
	if len(where) > 0 {
		clause = " WHERE " + strings.Join(where, " AND ")
	}
	const order = " ORDER BY p.kind, p.serial, p.part_number, p.id"
	rows, err := list(ctx, b.read, func(r scanner, p *PartRow) error {
		return r.Scan(append(partTargets(&p.Part), &p.Engine, &p.EngineNo, &p.Position, &p.AtGroove)...)
	}, "SELECT "+partColumns+`, coalesce(s.engine_id, 0), coalesce(e.serial, ''), coalesce(s.position, 0), coalesce(s.groove, 0)
		FROM part p LEFT JOIN stay s ON s.part_id = p.id AND s.to_day IS NULL AND s.void = '' LEFT JOIN engine e ON e.id = s.engine_id
		WHERE p.id IN (SELECT p.id FROM part p`+clause+order+" LIMIT ? OFFSET ?)"+order, append(args, f.Limit, f.Offset)...)
	if err != nil {
		return nil, 0, fmt.Errorf("list parts: %w", err)
	}
	total := len(rows)
	if f.Offset == 0 && total < f.Limit {
		return rows, total, nil // that is all of them
	}
	if err := b.read.QueryRowContext(ctx, "SELECT count(*) FROM part p"+clause, args...).Scan(&total); err != nil {
		return nil, 0, fmt.Errorf("count parts: %w", err)
	}
	return rows, total, nil
}

func (p *Part) trim() {
	p.Serial, p.PartNumber = strings.TrimSpace(p.Serial), strings.TrimSpace(p.PartNumber)
}

// Check says, as Invalid, all that is wrong with a part as it is given, the
// rest of the book left aside.
func (p Part) Check() error {
	p.trim()
	bad := append(tooLong(MostName, "serial", p.Serial, "part_number", p.PartNumber), tooLong(mostText, "note", p.Note)...)
	if _, ok := wear.ParseKind(string(p.Kind)); !ok {
		bad = append(bad, FieldError{Field: "kind", Message: "choose cylinder, piston, ring or pin"})
	}
	if p.Serial == "" {
		bad = append(bad, FieldError{Field: "serial", Message: "give the serial number, or a shop number where the part has none"})
	}
	if strings.Contains(p.Serial, "/") {
		bad = append(bad, FieldError{Field: "serial", Message: "a serial number may not contain a slash: write a hyphen"})
	}
	if !slices.Contains(Sources, p.Source) {
		bad = append(bad, FieldError{Field: "source", Message: "choose new, overhauled or serviceable used"})
	}
	if p.Surface != "" && !slices.Contains(Surfaces, p.Surface) {
		bad = append(bad, FieldError{Field: "surface", Message: "choose a barrel surface from the list"})
	}
	if p.Oversize < 0 || p.Oversize > mostOversize {
		bad = append(bad, FieldError{Field: "oversize", Message: oversizeFault(p.Oversize)})
	}
	if p.Source == "new" && p.HoursBefore != 0 {
		bad = append(bad, FieldError{Field: "hours_before", Message: "a new part has no hours before it came here"})
	}
	if p.Groove < 0 || p.Groove > 8 {
		bad = append(bad, FieldError{Field: "groove", Message: "a groove from 1 to 8, counted from the crown"})
	}
	if p.Material != "" && !slices.Contains(RingMaterials, p.Material) {
		bad = append(bad, FieldError{Field: "material", Message: "choose a ring material from the list"})
	}
	if p.Modulus != 0 && (p.Modulus < 1000 || p.Modulus > 1_000_000) {
		bad = append(bad, FieldError{Field: "modulus", Message: "a modulus of elasticity from 1000 to 1000000 N/mm²"})
	}
	if p.Weight != nil && *p.Weight <= 0 {
		bad = append(bad, FieldError{Field: "weight", Message: "a weight above 0"})
	}
	if p.OverhaulBefore != nil && p.HoursBefore > 0 && *p.OverhaulBefore > p.HoursBefore {
		bad = append(bad, FieldError{Field: "overhaul_before", Message: "hours since overhaul cannot be more than hours since new"})
	}
	return bad.orNil()
}

// AddPart puts a part on the shelf.
func (b *Book) AddPart(ctx context.Context, p Part) (id int64, err error) {
	p.Status = "on shelf"
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		id, err = addPart(ctx, t, p)
		return err
	})
	return id, err
}

func addPart(ctx context.Context, t *tx, p Part) (int64, error) {
	p.trim()
	if err := p.Check(); err != nil {
		return 0, err
	}
	id, err := t.insert(ctx, `INSERT INTO part (kind, part_number, serial, model_id, source, oversize, surface, facing, groove, width_class, material, modulus, weight, hours_before, overhaul_before, note, saved_at, status)
		VALUES (?, ?, ?, nullif(?, 0), ?, ?, ?, ?, ?, ?, ?, nullif(?, 0), ?, ?, ?, ?, ?, ?)`, p.Kind, p.PartNumber, p.Serial, p.ModelID, p.Source, p.Oversize, p.Surface, p.Facing,
		p.Groove, p.WidthClass, p.Material, p.Modulus, p.Weight, p.HoursBefore, p.OverhaulBefore, p.Note, t.at, cmp.Or(p.Status, "on shelf"))
	if err := p.refused(err); err != nil {
		return 0, err
	}
	if err != nil {
		return 0, fmt.Errorf("add part: %w", err)
	}
	return id, nil
}

// refused says in a person's words which rule of the book a part breaks; nil
// where err is no such thing.
func (p Part) refused(err error) error {
	switch {
	case isForeign(err):
		return invalid("model", "choose an engine model that the book has")
	case !isUnique(err):
		return nil
	case p.PartNumber == "":
		return invalid("serial", "the book already has a %s %s without a part number", p.Kind, p.Serial)
	}
	return invalid("serial", "the book already has a %s %s with part number %s", p.Kind, p.Serial, p.PartNumber)
}

// SavePart changes a part's description; its kind stays.
func (b *Book) SavePart(ctx context.Context, p Part) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		old, err := findPart(ctx, t, p.ID)
		if err != nil {
			return err
		}
		p.Kind = old.Kind
		p.trim()
		if err := p.Check(); err != nil {
			return err
		}
		_, err = t.ExecContext(ctx, `UPDATE part SET part_number = ?, serial = ?, model_id = nullif(?, 0), source = ?, oversize = ?, surface = ?, facing = ?, groove = ?,
			width_class = ?, material = ?, modulus = nullif(?, 0), weight = ?, hours_before = ?, overhaul_before = ?, note = ? WHERE id = ?`, p.PartNumber, p.Serial, p.ModelID, p.Source, p.Oversize, p.Surface, p.Facing, p.Groove,
			p.WidthClass, p.Material, p.Modulus, p.Weight, p.HoursBefore, p.OverhaulBefore, p.Note, p.ID)
		if err := p.refused(err); err != nil {
			return err
		}
		if err != nil {
			return fmt.Errorf("save part: %w", err)
		}
		t.touch(p.ID)
		return nil
	})
}

// ScrapPart takes a part on the shelf out of use for good.
func (b *Book) ScrapPart(ctx context.Context, id int64, day wear.Day, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the part is scrapped")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		return scrapPart(ctx, t, id, day, why)
	})
}

func scrapPart(ctx context.Context, t *tx, id int64, day wear.Day, why string) error {
	p, err := findPart(ctx, t, id)
	if err != nil {
		return err
	}
	if p.Status == "scrapped" {
		return invalid("reason", "the part was scrapped on %s already: %s", p.ScrapDay, p.ScrapReason)
	}
	if p.Status == "on engine" {
		s, err := whereNow(ctx, t, id)
		if err != nil {
			return err
		}
		return invalid("reason", "the part is on engine %s at position %d: remove it first", s.EngineNo, s.Position)
	}
	if bad := t.happened(day); len(bad) > 0 {
		return bad
	}
	if _, err := t.ExecContext(ctx, "UPDATE part SET status = 'scrapped', scrap_day = ?, scrap_reason = ? WHERE id = ?", day, why, id); err != nil {
		return fmt.Errorf("scrap part: %w", err)
	}
	return nil
}

// Hours are a part's times in service.
type Hours struct {
	SinceNew      wear.Hours
	NewKnown      bool // false where the hours before it came here are not known to be all
	SinceOverhaul *wear.Hours
	SinceInstall  *wear.Hours // nil on the shelf
}

// PartHours gives a part's hours now, by the latest meter entry of the engine
// it sits on.
func (b *Book) PartHours(ctx context.Context, id int64) (Hours, error) {
	h, err := findHistory(ctx, b.read, id)
	if err != nil {
		return Hours{}, err
	}
	return h.hours(ctx, b.read)
}

func (h *history) hours(ctx context.Context, q querier) (Hours, error) {
	out := Hours{NewKnown: h.part.Source == "new" || h.part.HoursBefore > 0}
	var here *wear.EngineHours
	if n := len(h.stays); n > 0 && h.stays[n-1].Open() {
		e, err := findEngine(ctx, q, h.stays[n-1].Engine)
		if err != nil {
			return out, err
		}
		here = &wear.EngineHours{Engine: e.ID, Hours: e.Hours}
		since := e.Hours - h.stays[n-1].FromHours
		out.SinceInstall = &since
	}
	now, err := h.clock.At(lastDay, here)
	if err != nil {
		return out, fmt.Errorf("count part hours: %w", err)
	}
	out.SinceNew = now
	if h.part.OverhaulBefore != nil {
		v := now - h.part.HoursBefore + *h.part.OverhaulBefore
		out.SinceOverhaul = &v
	}
	for _, m := range h.marks {
		if m.Event == wear.Overhauled {
			v := now - m.At
			out.SinceOverhaul = &v
		}
	}
	return out, nil
}

// lastDay sorts after every day that can be entered.
const lastDay wear.Day = "2999-12-31"

// isHoursNeeded reports that only the engine's hours could place a moment.
func isHoursNeeded(err error) bool { return errors.Is(err, wear.ErrHoursNeeded) }
