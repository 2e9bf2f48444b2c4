package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// recordWords are what the shop calls a row of a table, one and many; others
// are called as the table is.
var recordWords = map[string][2]string{
	"acknowledgement": {"acknowledgement of a finding", "acknowledgements of findings"},
	"checklist":       {"checklist", "checklists"},
	"checklist_line":  {"line of a checklist", "lines of checklists"},
	"engine":          {"engine", "engines"},
	"facing_pair":     {"entry of the facing list", "entries of the facing list"},
	"feature":         {"feature", "features"},
	"finding_seen":    {"acknowledgement of a finding", "acknowledgements of findings"},
	"gauge":           {"gauge", "gauges"},
	"job":             {"job", "jobs"},
	"job_decision":    {"decision", "decisions"},
	"job_entry":       {"job entry", "job entries"},
	"job_placing":     {"placing", "placings"},
	"job_step":        {"job step", "job steps"},
	"leak_reading":    {"leak reading", "leak readings"},
	"leak_rule":       {"leak rule", "leak rules"},
	"leak_test":       {"leak test", "leak tests"},
	"limit_row":       {"limit", "limits"},
	"mark":            {"work", "entries of work"},
	"meter":           {"meter entry", "meter entries"},
	"model":           {"engine model", "engine models"},
	"outbox_receipt":  {"receipt of a form", "receipts of forms"},
	"part":            {"part", "parts"},
	"password":        {"password", "passwords"},
	"person":          {"person", "people"},
	"person_engine":   {"inspector's view", "inspectors' views"},
	"photo":           {"photograph", "photographs"},
	"photo_data":      {"picture of a photograph", "pictures of photographs"},
	"reading":         {"reading", "readings"},
	"setting":         {"setting", "settings"},
	"sheet":           {"sheet", "sheets"},
	"stay":            {"installation", "installations"},
	"wider":           {"comparison group", "comparison groups"},
}

// RecordWord is what the shop calls so many rows of a table.
func RecordWord(table string, n int64) string {
	words, ok := recordWords[table]
	switch {
	case !ok:
		word := strings.ReplaceAll(table, "_", " ")
		if n != 1 {
			word += " records"
		}
		return word
	case n == 1:
		return words[0]
	}
	return words[1]
}

// alike keeps what all rows of a batch have in common.
type alike struct {
	columns []string
	row     []any
	left    []int // columns that are the same in all so far
}

func (s *alike) add(row []any) {
	if s.row == nil {
		s.row = append([]any{}, row...)
		for i, v := range row {
			if _, bytes := v.([]byte); !bytes { // which cannot be compared
				s.left = append(s.left, i)
			}
		}
		return
	}
	keep := s.left[:0]
	for _, i := range s.left {
		if s.row[i] == row[i] {
			keep = append(keep, i)
		}
	}
	s.left = keep
}

func (s *alike) values() map[string]json.RawMessage {
	out := map[string]json.RawMessage{}
	for _, i := range s.left {
		out[s.columns[i]] = appendValue(nil, s.row[i])
	}
	return out
}

// describe says in the trade's words what a row of the audit tells, and where
// that is shown.
func (t *tx) describe(ctx context.Context, a auditTable, r *AuditRow, values map[string]json.RawMessage) error {
	v := rowValues(values)
	noun := RecordWord(a.name, r.Rows)
	switch {
	case r.Rows != 1:
		noun = fmt.Sprintf("%d %s", r.Rows, noun)
	case a.name == "part":
		noun = v.text("kind") + " " + v.text("serial")
	default:
		noun = strings.TrimSpace(noun + " " + v.ownName())
	}
	owner, err := t.owner(ctx, v)
	if err != nil {
		return err
	}
	r.What, r.Page = r.Did+" "+noun, pageOf(a.name, v)
	if owner != "" && a.name != "part" && a.name != "engine" {
		r.What += " of " + owner
	}
	return nil
}

// rowValues are the values of a row by column.
type rowValues map[string]json.RawMessage

func (v rowValues) text(column string) string {
	var s string
	if json.Unmarshal(v[column], &s) != nil { // a number stands as it is
		s = string(v[column])
	}
	if s == "null" {
		return ""
	}
	return s
}

func (v rowValues) ownName() string {
	for _, column := range []string{"serial", "name", "key", "event", "title"} {
		if s := v.text(column); s != "" {
			return s
		}
	}
	return ""
}

// owners are what a row can belong to, the nearest first.
var owners = []struct{ column, query string }{
	{"part_id", "SELECT kind || ' ' || serial FROM part WHERE id = ?"},
	{"engine_id", "SELECT 'engine ' || serial FROM engine WHERE id = ?"},
	{"job_id", "SELECT 'engine ' || e.serial FROM job j JOIN engine e ON e.id = j.engine_id WHERE j.id = ?"},
	{"person_id", "SELECT name FROM person_now WHERE root = ?"},
	{"model_id", "SELECT name FROM model WHERE id = ?"},
	{"feature_id", "SELECT kind || ' ' || name FROM feature WHERE id = ?"},
}

// alsoNamed are what else a column may refer to, by name.
var alsoNamed = []struct{ column, query string }{
	{"gauge_id", "SELECT name FROM gauge WHERE id = ?"},
	{"sheet_id", "SELECT 'no. ' || id || ' of ' || day FROM sheet WHERE id = ?"},
	{"test_root", "SELECT 'leak test of ' || day FROM leak_test WHERE id = ?"},
	{"from_meter", meterName}, {"to_meter", meterName}, {"meter_root", meterName},
}

const meterName = "SELECT printf('%s, %.1f h', day, hours / 100.0) FROM meter_now WHERE root = ?"

func (t *tx) owner(ctx context.Context, v rowValues) (string, error) {
	for _, o := range owners {
		id := v.text(o.column)
		if id == "" {
			continue
		}
		name, err := one(ctx, t, func(r scanner, s *string) error { return r.Scan(s) }, o.query, id)
		if errors.Is(err, ErrNotFound) {
			continue
		}
		return name, err
	}
	return "", nil
}

// ownPages are where a row of a table is shown, by one of its columns, or with
// all others of its table.
var ownPages = map[string]struct{ before, column, after string }{
	"checklist":      {"/models/", "model_id", "/checklist"},
	"engine":         {"/engines/", "id", ""},
	"facing_pair":    {"/facings", "", ""},
	"feature":        {"/features", "", ""},
	"gauge":          {"/gauges", "", ""},
	"job":            {"/jobs/", "id", ""},
	"job_decision":   {"/jobs/", "job_id", "/bench"},
	"job_entry":      {"/jobs/", "job_id", ""},
	"job_placing":    {"/jobs/", "job_id", "/placing"},
	"job_step":       {"/jobs/", "job_id", "/steps"},
	"leak_rule":      {"/models/", "model_id", "/leak"},
	"leak_test":      {"/leaktests/", "root", ""},
	"limit_row":      {"/limits/", "id", "/history"},
	"model":          {"/models/", "id", ""},
	"outbox_receipt": {"", "answer", ""},
	"part":           {"/parts/", "id", ""},
	"password":       {"/people/", "person_id", ""},
	"person":         {"/people/", "root", ""},
	"person_engine":  {"/people", "", ""},
	"photo":          {"/photos/", "id", ""},
	"photo_data":     {"/photos/", "photo_id", ""},
	"setting":        {"/settings", "", ""},
	"sheet":          {"/sheets/", "id", ""},
	"wider":          {"/features/", "feature_id", "/group"},
}

// ownerPages are where a row is shown that belongs to another, the nearest
// first.
var ownerPages = []struct{ column, before string }{
	{"sheet_id", "/sheets/"}, {"test_root", "/leaktests/"}, {"part_id", "/parts/"}, {"job_id", "/jobs/"}, {"engine_id", "/engines/"}, {"model_id", "/models/"},
}

func pageOf(table string, v rowValues) string {
	if p, ok := ownPages[table]; ok && (p.column == "" || v.text(p.column) != "") {
		return p.before + v.text(p.column) + p.after
	}
	for _, p := range ownerPages {
		if id := v.text(p.column); id != "" {
			return p.before + id
		}
	}
	return ""
}

// sizesOf are the columns of a table that hold sizes in its row's own unit.
var sizesOf = map[string][]string{
	"reading":   {"value", "bore", "sd", "operator_sd", "resolution"},
	"limit_row": {"new_min", "new_max", "service_min", "service_max"},
	"gauge":     {"sd", "operator_sd", "resolution"},
	"leak_test": {"orifice"},
	"leak_rule": {"orifice"},
}

// lengthsOf are the columns of a table that hold lengths, or lists of them, in
// no unit of their own: they are told in the shop's.
var lengthsOf = map[string][]string{
	"model": {"oversizes", "clean_up", "crank_radius", "master_rod", "knuckle_radius", "link_rod", "pin_to_crown", "below_crown", "skirt_end"}, "part": {"oversize"}, "mark": {"oversize"},
}

// weightsOf are the columns of a table that hold weights.
var weightsOf = map[string][]string{"model": {"weight_spread"}, "part": {"weight"}}

// yesNoOf are the columns of a table that hold 0 or 1.
var yesNoOf = map[string][]string{
	"person": {"owner", "mechanic", "inspector", "active", "limited"}, "password": {"given"}, "model": {"anticlockwise"},
}

// pressuresOf are the columns of a table that hold pressures.
var pressuresOf = map[string][]string{
	"leak_test": {"regulated", "ambient", "master"}, "leak_reading": {"reading", "recheck"}, "leak_rule": {"minimum", "regulated"},
}

// hoursOf are the columns of a table that hold hours.
var hoursOf = map[string][]string{
	"meter": {"shows", "offset"}, "reading": {"part_hours", "since_install"}, "limit_row": {"life"}, "mark": {"at_hours", "since_install"}, "part": {"hours_before", "overhaul_before"}, "model": {"overhaul"},
}

// AuditUnit is the unit that the sizes of an audit row are written in: that of
// the record it tells of. Empty where it has none, or is gone.
func (b *Book) AuditUnit(ctx context.Context, a AuditRow) (wear.Unit, error) {
	if sizesOf[a.Record] == nil || a.Rows > 1 {
		return wear.Unit{}, nil
	}
	name, err := one(ctx, b.read, func(r scanner, s *string) error { return r.Scan(s) }, "SELECT unit FROM "+quoteName(a.Record)+" WHERE id = ?", a.First)
	if errors.Is(err, ErrNotFound) {
		return wear.Unit{}, nil
	}
	if err != nil {
		return wear.Unit{}, fmt.Errorf("find unit of audit row: %w", err)
	}
	return wear.UnitNamed(name)
}

// AuditName is what a number that refers to another record means, in words: the
// engine, part, person, model, feature or gauge by name, the meter's day and hours.
// "" where it refers to none of them.
func (b *Book) AuditName(ctx context.Context, column, id string) (string, error) {
	query := ""
	for _, o := range owners {
		if o.column == column {
			query = o.query
		}
	}
	for _, o := range alsoNamed {
		if o.column == column {
			query = o.query
		}
	}
	if query == "" || id == "" {
		return "", nil
	}
	names, err := list(ctx, b.read, func(r scanner, s *string) error { return r.Scan(s) }, query, id)
	if err != nil || len(names) == 0 {
		return "", err
	}
	return names[0], nil
}

// AuditText writes what a column of an audit row holds, text or a number of
// base units, as the shop reads it: sizes in the row's unit, lengths that have
// none in the shop's.
func AuditText(record, column, text string, u, shop wear.Unit) string {
	holds := func(columns map[string][]string) bool { return slices.Contains(columns[record], column) }
	if text != "" && holds(lengthsOf) {
		items := strings.Split(text, ",")
		for i, item := range items {
			n, err := strconv.ParseInt(item, 10, 64)
			if err != nil {
				return text
			}
			items[i] = wear.Value(n).Format(shop) + " " + shop.Name
		}
		return strings.Join(items, ", ")
	}
	if holds(weightsOf) { // which has grams, so without a fault
		u, _ = wear.UnitNamed("g")
	}
	n, err := strconv.ParseInt(text, 10, 64)
	switch {
	case err != nil:
	case holds(hoursOf):
		return wear.Hours(n).String() + " h"
	case holds(pressuresOf):
		return wear.PSI(n).String() + " psi"
	case holds(weightsOf):
		return wear.Value(n).Format(u) + " " + u.Name
	case record == "leak_test" && (column == "sd" || column == "resolution"):
		return wear.Value(n).Format(Psi) + " " + Psi.Name
	case u.Name != "" && holds(sizesOf):
		return wear.Value(n).Format(u) + " " + u.Name
	case holds(yesNoOf) && n == 0:
		return "no"
	case holds(yesNoOf) && n == 1:
		return "yes"
	}
	return text
}
