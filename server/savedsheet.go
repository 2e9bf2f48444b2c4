package server

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// savedSheet shows a sheet with the verdict beside each number.
func (s *Server) savedSheet(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	ctx := r.Context()
	sheet, readings, err := s.book.Sheet(ctx, n)
	if err != nil {
		return err
	}
	set, err := s.book.Settings(ctx)
	if err != nil {
		return err
	}
	p := views.SavedSheet{Page: s.page(r, "Sheet of "+string(sheet.Day), views.NavMeasure), Facts: sheetFacts(sheet, readings)}
	if p.Facts, err = s.addReceipt(ctx, p.Facts, sheet.UID, sheet.Who); err != nil {
		return err
	}
	parts, err := s.inStackOrder(r, byPart(readings))
	if err != nil {
		return err
	}
	for _, m := range parts {
		d, rs := m.dossier, m.readings
		p.Parts = append(p.Parts, d.sheetResult(rs, set))
		p.Steps = append(p.Steps, d.verdictSteps(rs)...)
		p.Next = append(p.Next, views.Link{Text: partName(d.part.Kind, d.part.Serial), Href: href("/parts/", d.part.ID)})
	}
	p.Name = p.Parts[0].Name + ", " + string(sheet.Day)
	if sheet.Engine != 0 {
		p.Name = fmt.Sprintf("Engine %s, %s", sheet.EngineNo, sheet.Day)
		if sheet.Position > 0 {
			p.Name = fmt.Sprintf("Position %d of engine %s, %s", sheet.Position, sheet.EngineNo, sheet.Day)
		}
		e, err := s.book.Engine(ctx, sheet.Engine)
		if err != nil {
			return err
		}
		if next := sheet.Position%e.Cylinders + 1; sheet.Position > 0 && e.Cylinders > 1 {
			p.Next = append([]views.Link{{Text: "Measure position " + itoa(next), Href: href("/measure/engine/", e.ID, "/", next)}}, p.Next...)
		}
	}
	return s.draw(w, r, http.StatusOK, views.SavedSheetPage(p))
}

func sheetFacts(sheet store.Sheet, readings []store.Reading) []views.Fact {
	facts := []views.Fact{{Label: "Date", Value: string(sheet.Day)}}
	add := func(label, value string) {
		if value != "" {
			facts = append(facts, views.Fact{Label: label, Value: value})
		}
	}
	if sheet.Engine != 0 {
		add("Engine hours", hours(sheet.Hours))
	}
	add("Measured by", sheet.Who)
	gauges := map[string]bool{}
	for _, x := range readings {
		if x.Gauge != "" && !gauges[x.Gauge] {
			gauges[x.Gauge] = true
			add("Gauge", x.Gauge+overdue(x))
		}
	}
	if sheet.Temperature != nil {
		text := fmt.Sprintf("%g °C", *sheet.Temperature)
		if *sheet.Temperature != 20 {
			text += "; sizes count as they are at 20 °C"
		}
		add("Part temperature", text)
	}
	add("Note", sheet.Note)
	return facts
}

func overdue(x store.Reading) string {
	if x.GaugeOverdue {
		return " (calibration was overdue)"
	}
	return ""
}

func byPart(readings []store.Reading) [][]store.Reading {
	var parts [][]store.Reading
	for _, x := range readings {
		if n := len(parts); n > 0 && parts[n-1][0].Part == x.Part {
			parts[n-1] = append(parts[n-1], x)
			continue
		}
		parts = append(parts, []store.Reading{x})
	}
	return parts
}

// measured is a part of a sheet with its readings there.
type measured struct {
	*dossier
	readings []store.Reading
}

// inStackOrder reads what is known of each part and brings them into the order
// of the stack.
func (s *Server) inStackOrder(r *http.Request, parts [][]store.Reading) ([]measured, error) {
	out := make([]measured, len(parts))
	for i, rs := range parts {
		d, err := s.dossier(r, rs[0].Part, "")
		if err != nil {
			return nil, err
		}
		out[i] = measured{d, rs}
	}
	slices.SortStableFunc(out, func(a, b measured) int {
		return cmp.Or(cmp.Compare(slices.Index(wear.Kinds, a.part.Kind), slices.Index(wear.Kinds, b.part.Kind)), cmp.Compare(a.part.Groove, b.part.Groove))
	})
	return out, nil
}

// sheetResult draws one part's readings of a sheet.
func (d *dossier) sheetResult(rs []store.Reading, set store.Settings) views.SheetResult {
	v := views.SheetResult{ID: "part-" + fmt.Sprint(d.part.ID), Name: partName(d.part.Kind, d.part.Serial), Href: href("/parts/", d.part.ID), About: d.part.Status}
	for i := 0; i < len(rs); {
		j := i
		for j < len(rs) && rs[j].Feature == rs[i].Feature {
			j++
		}
		v.Blocks = append(v.Blocks, d.resultBlock(rs[i:j], set))
		i = j
	}
	return v
}

func (d *dossier) resultBlock(rs []store.Reading, set store.Settings) views.ResultBlock {
	f := d.features[rs[0].Feature]
	u := store.UnitFor(f, set.Unit)
	b := views.ResultBlock{Feature: capital(f.Name), Unit: u.Name}
	if row, lim := d.limitOf(f, rs[0].Groove, d.sizeOn(rs[0])); row != nil {
		b.Limits, b.Source = limitText(lim, u), source(row)
	}
	for _, x := range d.findings {
		if x.Feature.ID == f.ID && f.Wear != wear.NoWear && hasSpot(rs, x) {
			b.Wear = append(b.Wear, views.WearLine{Where: spot(x.Groove, x.Station, ""), State: x.State.String(), Text: x.Sentence, Href: href("/parts/", d.part.ID, "?series=", x.Series)})
		}
	}
	for _, x := range rs {
		b.Rows = append(b.Rows, d.resultRow(x, u))
	}
	return b
}

func hasSpot(rs []store.Reading, x store.Finding) bool {
	for _, r := range rs {
		if r.Groove == x.Groove && r.Station == x.Station {
			return true
		}
	}
	return false
}

func (d *dossier) resultRow(x store.Reading, u wear.Unit) views.ResultRow {
	row := views.ResultRow{Spot: spot(x.Groove, x.Station, x.Axis), Struck: x.Struck, Reason: d.correctionOf(x).Reason}
	if x.Value == nil {
		row.Value, row.Plain = "withdrawn", x.Reason
		return row
	}
	row.Value = x.Value.Format(u)
	if x.Typed != row.Value && x.Typed != "" {
		row.Typed = x.Typed
	}
	row.At20 = d.at20Text(x, u)
	a := d.assess(x)
	row.U, row.Verdict, row.Plain = d.uText(x, u), told(a.Verdict), d.plain(x, a, u)
	row.Change = d.changeSince(x, u)
	if !x.Struck {
		row.CorrectHref = href("/readings/", x.Root, "/correct")
	}
	return row
}

// plainText is the bare comparison with the nearest limit.
func plainText(a wear.Assessment, u wear.Unit) string {
	if a.Tight() {
		return tightText(a, u)
	}
	switch {
	case !a.Bounded && a.Plain == wear.New:
		return "inside the new limits"
	case !a.Bounded:
		return ""
	case a.Room < 0:
		return inUnit(-a.Room, u, 0) + " past the service limit"
	case a.Room == 0:
		return "on the service limit"
	}
	return inUnit(a.Room, u, 0) + " inside the service limit"
}

// tightText is the bare comparison with the tight side of a clearance.
func tightText(a wear.Assessment, u wear.Unit) string {
	bound := "the new minimum"
	if a.Edge == wear.TightServiceEdge {
		bound = "the service minimum"
	}
	text := inUnit(math.Abs(a.Room), u, 0)
	switch {
	case a.Edge == wear.NothingEdge:
		return "interference of " + text
	case a.Interference:
		return "interference, " + text + " tighter than " + bound
	case a.Room < 0:
		return text + " tighter than " + bound
	case a.Room == 0:
		return "on " + bound
	}
	return text + " looser than " + bound
}

func limitText(l wear.Limit, u wear.Unit) string {
	var parts []string
	if t := between(l.NewMin, l.NewMax, u); t != "" {
		parts = append(parts, "new "+t)
	}
	if t := between(l.ServiceMin, l.ServiceMax, u); t != "" {
		parts = append(parts, "service "+t)
	}
	return strings.Join(parts, ", ")
}

// correctReading corrects one reading, or withdraws it.
func (s *Server) correctReading(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	x, err := s.book.Reading(r.Context(), n)
	if err != nil {
		return err
	}
	d, err := s.dossier(r, x.Part, "")
	if err != nil {
		return err
	}
	f := blankForm(who(r, map[string]string{"what": views.WhatCorrect}))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		if err := s.saveCorrection(r, f, x); err != nil {
			return err
		}
		if f.ok() {
			return s.redirect(w, r, href("/sheets/", x.Sheet.ID), "The correction was saved; the old value stays in the book, struck through.")
		}
	}
	feature := d.features[x.Feature]
	p := views.CorrectReading{Page: s.page(r, "Correct a reading", views.NavParts), Action: href("/readings/", x.Root, "/correct"), Draft: f.draft(), Back: views.Link{Text: "Back to the sheet", Href: href("/sheets/", x.Sheet.ID)},
		What: strings.TrimSuffix(capital(feature.Name)+", "+spot(x.Groove, x.Station, x.Axis), ", ") + ", of " + string(d.part.Kind) + " " + d.part.Serial, Facts: sheetFacts(x.Sheet, []store.Reading{x}), Unit: x.Unit.Name}
	if x.Value != nil {
		p.Old = x.Value.Format(x.Unit)
	}
	if x.Typed != p.Old {
		p.Typed = x.Typed
	}
	if row, lim := d.limitOf(feature, x.Groove, d.sizeOn(x)); row != nil {
		p.Limits = limitText(lim, x.Unit)
	}
	for _, old := range d.readings {
		if old.Root == x.Root && old.Struck {
			by := d.correctionOf(old)
			c := views.Correction{Reason: by.Reason, Who: by.Who, When: day(by.SavedAt)}
			if old.Value != nil {
				c.Value = old.Value.Format(x.Unit)
			}
			p.Before = append(p.Before, c)
		}
	}
	return s.draw(w, r, f.status(), views.CorrectReadingPage(p))
}

func (s *Server) saveCorrection(r *http.Request, f *form, x store.Reading) error {
	var value wear.Value
	typed := ""
	if f.text("what") != views.WhatWithdraw {
		typed = f.needed("value", "type the right value, or choose to withdraw the reading")
		v, err := wear.ParseValue(typed, x.Unit)
		if err != nil && typed != "" {
			f.fault("value", "%s", err)
		}
		value = v
	}
	why := f.needed("reason", "say why the reading is corrected")
	if !f.ok() {
		return nil
	}
	return f.refused(s.book.CorrectReading(r.Context(), x.Root, value, typed, f.text("who"), why), nil)
}
