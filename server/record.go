package server

import (
	"context"
	"fmt"

	"barrelbook/store"
	"barrelbook/wear"
)

// Record is what an inspector is handed on paper or as data: one part, or an
// engine with all that sits on it. Numbers are written as the book shows
// them, in the unit beside them. Its schema is static/record.schema.json.
type Record struct {
	Format   string       `json:"format"` // barrelbook-record
	Version  int          `json:"version"`
	Made     string       `json:"made"` // UTC
	Shop     string       `json:"shop"`
	Notice   string       `json:"notice"`
	Demo     bool         `json:"demo"`
	Audit    AuditRecord  `json:"audit"`
	Engine   *EngineFacts `json:"engine,omitempty"`
	Parts    []PartRecord `json:"parts"`
	Cautions []string     `json:"cautions"`

	// of positions of the engine in its jobs, where they name no part
	Photos []PhotoRecord `json:"photographs,omitempty"`
}

// AuditRecord is the newest entry of the book's audit when the record was made,
// to be compared later: barrelbook check -head HASH.
type AuditRecord struct {
	Head    string `json:"head"`
	Entries int64  `json:"entries"`
	At      string `json:"at"` // UTC, of that entry
}

// EngineFacts is an engine in a record.
type EngineFacts struct {
	Serial      string `json:"serial"`
	Model       string `json:"model"`
	Arrangement string `json:"arrangement"`
	Cylinders   int    `json:"cylinders"`
	MasterRod   int    `json:"master_rod_cylinder,omitempty"`
	Aircraft    string `json:"aircraft"`
	Hours       string `json:"hours"`
	HoursDay    string `json:"hours_day"`
}

// PartRecord is a part in a record.
type PartRecord struct {
	Kind          string          `json:"kind"`
	Serial        string          `json:"serial"`
	PartNumber    string          `json:"part_number"`
	Model         string          `json:"engine_model"`
	Source        string          `json:"source"`
	Status        string          `json:"status"`
	Surface       string          `json:"surface,omitempty"`
	Facing        string          `json:"facing,omitempty"`
	Groove        int             `json:"groove,omitempty"`
	Oversize      string          `json:"oversize,omitempty"`
	Unit          string          `json:"unit"`
	SinceNew      string          `json:"hours_since_new"`
	NewKnown      bool            `json:"hours_since_new_known"`
	SinceOverhaul string          `json:"hours_since_overhaul,omitempty"`
	SinceInstall  string          `json:"hours_since_installation,omitempty"`
	Installations []StayRecord    `json:"installations"`
	Events        []EventRecord   `json:"events"`
	Readings      []ReadingRecord `json:"readings"`
	Limits        []LimitRecord   `json:"limits"`
	Findings      []FindingRecord `json:"findings"`
	LeakTests     []LeakRecord    `json:"leak_tests,omitempty"`
	Photos        []PhotoRecord   `json:"photographs,omitempty"`

	worst *store.Finding
	book  int64
}

// StayRecord is a time on an engine.
type StayRecord struct {
	Engine    string `json:"engine"`
	Position  int    `json:"position"`
	Groove    int    `json:"groove,omitempty"`
	From      string `json:"from"`
	FromHours string `json:"from_hours"`
	To        string `json:"to,omitempty"`
	ToHours   string `json:"to_hours,omitempty"`
	ReasonOut string `json:"reason_out,omitempty"`
	Struck    string `json:"struck,omitempty"`
	Despite   string `json:"fitted_despite_facing,omitempty"`
}

// EventRecord is work that started a run.
type EventRecord struct {
	Day   string `json:"day,omitempty"`
	Event string `json:"event"`
	Hours string `json:"part_hours"`
}

// ReadingRecord is a number, with the gauge it was read with and its verdict.
// Where it was carried to 20 °C, uncertainty and verdict are of the size there.
type ReadingRecord struct {
	Day          string   `json:"day"`
	EngineHours  string   `json:"engine_hours,omitempty"`
	RunHours     string   `json:"hours_in_run,omitempty"`
	Feature      string   `json:"feature"`
	Groove       int      `json:"groove,omitempty"`
	Station      string   `json:"station,omitempty"`
	Axis         string   `json:"axis,omitempty"`
	Value        string   `json:"value"`
	At20         string   `json:"value_at_20_c,omitempty"`
	Unit         string   `json:"unit"`
	Uncertainty  string   `json:"expanded_uncertainty,omitempty"`
	Gauge        string   `json:"gauge,omitempty"`
	GaugeOverdue bool     `json:"gauge_overdue,omitempty"`
	Temperature  *float64 `json:"temperature_c,omitempty"`
	Who          string   `json:"who,omitempty"`
	Verdict      string   `json:"verdict"`
	Plain        string   `json:"plain_comparison"`
	Struck       bool     `json:"struck,omitempty"`
	Reason       string   `json:"reason,omitempty"`
	Note         string   `json:"note,omitempty"`

	limit LimitRecord // that it was compared with
}

// LimitRecord is a limit with the document it was typed from.
type LimitRecord struct {
	Feature  string `json:"feature"`
	Groove   int    `json:"groove,omitempty"`
	New      string `json:"new"`
	Service  string `json:"service"`
	Unit     string `json:"unit"`
	Life     string `json:"overhaul_hours,omitempty"`
	Document string `json:"document"`
	Revision string `json:"revision"`
	Page     string `json:"page"`
	Ref      string `json:"ref,omitempty"`
	Since    string `json:"since"`
}

// Notice stands on every record.
const Notice = "Draft for a logbook entry; not a release to service."

// Cautions of a record.
var recordCautions = []string{
	"Limits are those the shop typed from its own manual; the maker's current manual and local rules prevail.",
	"A verdict compares a number with a limit. Whether a part may be used is for licensed people to decide.",
	"Wear figures compare a part with others the shop measured; they cannot see cracks, corrosion under deposits, or what was not measured.",
}

// PartRecordOf makes the record of one part.
func PartRecordOf(ctx context.Context, book *store.Book, part int64) (Record, error) {
	rec, err := newRecord(ctx, book)
	if err != nil {
		return rec, err
	}
	p, err := partRecord(ctx, book, part)
	rec.Parts = []PartRecord{p}
	return rec, err
}

// EngineRecordOf makes the record of an engine and the parts that sit on it.
func EngineRecordOf(ctx context.Context, book *store.Book, engine int64) (Record, error) {
	rec, err := newRecord(ctx, book)
	if err != nil {
		return rec, err
	}
	e, err := book.Engine(ctx, engine)
	if err != nil {
		return rec, err
	}
	rec.Engine = &EngineFacts{Serial: e.Serial, Model: e.Model.Name, Arrangement: e.Arrangement, Cylinders: e.Cylinders, MasterRod: e.MasterRod, Aircraft: e.Aircraft, Hours: e.Hours.String(), HoursDay: string(e.HoursDay)}
	slots, err := book.Slots(ctx, []store.Engine{e})
	if err != nil {
		return rec, err
	}
	for _, s := range slots[e.ID] {
		p, err := partRecord(ctx, book, s.ID)
		if err != nil {
			return rec, err
		}
		rec.Parts = append(rec.Parts, p)
	}
	photos, err := book.PhotosOfEngine(ctx, e.ID)
	rec.Photos = photoRecords(photos)
	return rec, err
}

func newRecord(ctx context.Context, book *store.Book) (Record, error) {
	set, err := book.Settings(ctx)
	if err != nil {
		return Record{}, err
	}
	head, err := book.Head(ctx)
	return Record{Audit: AuditRecord{head.Hash, head.Rows, head.At}, Format: "barrelbook-record", Version: 1, Made: book.Now(), Shop: set.Shop, Notice: Notice, Demo: set.Demo, Parts: []PartRecord{}, Cautions: recordCautions}, err
}

func partRecord(ctx context.Context, book *store.Book, part int64) (PartRecord, error) {
	d, err := readDossier(ctx, book, part, "")
	if err != nil {
		return PartRecord{}, err
	}
	p, u := d.part, d.set.Unit
	rec := PartRecord{Kind: string(p.Kind), Serial: p.Serial, PartNumber: p.PartNumber, Model: d.model.Name, Source: p.Source, Status: p.Status, Surface: p.Surface, Facing: p.Facing, Groove: p.Groove,
		Unit: u.Name, SinceNew: d.hours.SinceNew.String(), NewKnown: d.hours.NewKnown, Installations: []StayRecord{}, Events: []EventRecord{}, Readings: []ReadingRecord{}, Limits: []LimitRecord{}, Findings: []FindingRecord{},
		worst: d.worst(), book: p.ID}
	if size := d.sizeNow(); size != 0 {
		rec.Oversize = size.Format(u)
	}
	if h := d.hours.SinceOverhaul; h != nil {
		rec.SinceOverhaul = h.String()
	}
	if h := d.hours.SinceInstall; h != nil {
		rec.SinceInstall = h.String()
	}
	for _, s := range d.stays {
		v := StayRecord{Engine: s.EngineNo, Position: s.Position, Groove: s.Groove, From: string(s.From), FromHours: s.FromHours.String(), ReasonOut: s.ReasonOut, Struck: s.Void, Despite: s.Despite}
		if !s.Open() {
			v.To, v.ToHours = string(s.To), s.ToHours.String()
		}
		rec.Installations = append(rec.Installations, v)
	}
	for _, m := range d.marks {
		rec.Events = append(rec.Events, EventRecord{Day: string(m.Day), Event: markText(m, u), Hours: m.At.String()})
	}
	for _, x := range d.readings {
		rec.Readings = append(rec.Readings, d.readingRecord(x))
	}
	rec.Limits = d.limitRecords()
	for _, f := range onePerFeature(d.findings) {
		rec.Findings = append(rec.Findings, FindingOf(f, d.set.Unit))
	}
	if p.Kind == wear.Cylinder {
		if rec.LeakTests, err = leakRecords(ctx, book, part); err != nil {
			return rec, err
		}
	}
	photos, err := book.PhotosOfPart(ctx, part)
	rec.Photos = photoRecords(photos)
	return rec, err
}

func (d *dossier) readingRecord(x store.Reading) ReadingRecord {
	f := d.features[x.Feature]
	u := store.UnitFor(f, d.set.Unit)
	rec := ReadingRecord{Day: string(x.Sheet.Day), Feature: f.Name, Groove: x.Groove, Station: x.Station, Axis: x.Axis, Unit: u.Name, Gauge: x.Gauge, GaugeOverdue: x.GaugeOverdue,
		Temperature: x.Sheet.Temperature, Who: x.Sheet.Who, Struck: x.Struck, Reason: x.Reason, Note: x.Sheet.Note, Value: "withdrawn", Verdict: wear.NoLimit.String()}
	if x.Sheet.Engine != 0 {
		rec.EngineHours = x.Sheet.Hours.String()
	}
	if h, _, ok := d.runHours(x); ok {
		rec.RunHours = h.String()
	}
	if x.Value != nil {
		rec.limit, _ = d.limitRecord(f, x.Groove, d.sizeOn(x))
		a, c := d.assess(x), d.counted(x)
		rec.Value, rec.Verdict, rec.Plain = x.Value.Format(u), a.Verdict.String(), d.plain(x, a, u)
		if c.Carried {
			rec.At20 = inUnit(float64(c.Value), u, 0)
		}
		if c.U > 0 {
			rec.Uncertainty = inUnit(wear.ExpandedU(c.U), u, 1)
		}
	}
	return rec
}

// limitRecords are the limits of the features that were measured.
func (d *dossier) limitRecords() []LimitRecord {
	out := []LimitRecord{}
	type key struct {
		feature int64
		groove  int
	}
	seen := map[key]bool{}
	for _, x := range d.readings {
		k := key{x.Feature, x.Groove}
		if seen[k] {
			continue
		}
		seen[k] = true
		if rec, ok := d.limitRecord(d.features[x.Feature], x.Groove, d.sizeNow()); ok {
			out = append(out, rec)
		}
	}
	return out
}

// limitRecord is the limit of a feature in a groove, moved by an oversize; not
// ok where none is typed.
func (d *dossier) limitRecord(f wear.Feature, groove int, size wear.Value) (rec LimitRecord, ok bool) {
	row, lim := d.limitOf(f, groove, size)
	if row == nil {
		return rec, false
	}
	u := store.UnitFor(f, d.set.Unit)
	rec = LimitRecord{Feature: f.Name, Groove: groove, New: between(lim.NewMin, lim.NewMax, u), Service: between(lim.ServiceMin, lim.ServiceMax, u), Unit: u.Name,
		Document: row.Document, Revision: row.Revision, Page: row.Page, Ref: row.Ref, Since: utcDay(row.SavedAt)}
	if row.Life > 0 {
		rec.Life = row.Life.String()
	}
	return rec, true
}

// onePerFeature keeps the station that looks worst of each feature.
func onePerFeature(fs []store.Finding) []store.Finding {
	var out []store.Finding
	for _, f := range fs {
		if n := len(out); n > 0 && out[n-1].Feature.ID == f.Feature.ID && out[n-1].Groove == f.Groove {
			continue
		}
		out = append(out, f)
	}
	return out
}

// Name is what a record's file is called, without its ending.
func (r Record) Name() string {
	if r.Engine != nil {
		return "engine-" + safeName(r.Engine.Serial)
	}
	return fmt.Sprintf("%s-%s", r.Parts[0].Kind, safeName(r.Parts[0].Serial))
}

// safeName keeps letters, digits, hyphens and points of a serial.
func safeName(s string) string {
	out := []rune(s)
	for i, r := range out {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.') {
			out[i] = '_'
		}
	}
	return string(out)
}
