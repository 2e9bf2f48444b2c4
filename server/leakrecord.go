package server

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// LeakRecord is a differential compression test of a cylinder in a record.
type LeakRecord struct {
	Day            string   `json:"day"`
	Engine         string   `json:"engine"`
	Position       int      `json:"position"`
	EngineHours    string   `json:"engine_hours"`
	Regulated      string   `json:"regulated_psi"`
	Reading        string   `json:"reading_psi"` // or withdrawn
	Recheck        string   `json:"recheck_psi,omitempty"`
	Uncertainty    string   `json:"expanded_uncertainty_psi,omitempty"`
	Orifice        string   `json:"orifice_in"`
	Ambient        string   `json:"ambient_psi,omitempty"`
	Master         string   `json:"master_orifice_psi,omitempty"`
	Tester         string   `json:"tester,omitempty"`
	TesterDue      string   `json:"tester_due,omitempty"`
	TesterOverdue  bool     `json:"tester_overdue,omitempty"`
	Minutes        *int     `json:"minutes_since_shutdown,omitempty"`
	Heard          []string `json:"air_heard,omitempty"`
	Loss           *float64 `json:"loss_percent,omitempty"`
	Area           *float64 `json:"leak_area_mm2,omitempty"`
	AreaU          *float64 `json:"leak_area_expanded_uncertainty_mm2,omitempty"`
	Verdict        string   `json:"verdict"`
	Rule           string   `json:"rule"`
	Document       string   `json:"document"`
	GeneralVerdict string   `json:"general_rule_verdict"`
	Who            string   `json:"who,omitempty"`
	Struck         bool     `json:"struck,omitempty"`
	Reason         string   `json:"reason,omitempty"`
	Note           string   `json:"note,omitempty"`
}

// leakRecords are the leak tests of a cylinder, newest first.
func leakRecords(ctx context.Context, book *store.Book, part int64) ([]LeakRecord, error) {
	all, err := book.LeakReadingsOf(ctx, part)
	if err != nil {
		return nil, err
	}
	judges := map[int64]leakJudge{}
	var out []LeakRecord
	for _, r := range all {
		j, ok := judges[r.Test.Model]
		if !ok {
			if j, err = readLeakJudge(ctx, book, r.Test.Model); err != nil {
				return nil, err
			}
			judges[r.Test.Model] = j
		}
		rec, err := j.record(r)
		if err != nil {
			return nil, err
		}
		out = append(out, rec)
	}
	return out, nil
}

func (j leakJudge) record(r store.LeakReading) (LeakRecord, error) {
	h := r.Test
	rec := LeakRecord{Day: string(h.Day), Engine: h.EngineNo, Position: r.Position, EngineHours: h.Hours.String(), Regulated: h.Regulated.String(), Reading: "withdrawn", Recheck: psiText(r.Recheck), Orifice: orificeNumber(h.Orifice), Ambient: psiText(h.Ambient),
		Master: psiText(h.Master), Tester: h.Tester, TesterDue: string(h.Due), TesterOverdue: h.Overdue(), Minutes: h.Minutes, Who: h.Who, Struck: r.Struck, Reason: r.Reason, Note: h.Note,
		Verdict: wear.NoLimit.String(), Rule: "loss at most 25 %", Document: wear.GeneralLeakRule.Document, GeneralVerdict: wear.NoLimit.String()}
	if h.Reason != "" {
		rec.Note = strings.TrimPrefix(rec.Note+"; ", "; ") + "test corrected: " + h.Reason
	}
	for _, place := range r.Heard {
		rec.Heard = append(rec.Heard, string(place))
	}
	if j.maker != nil {
		rec.Rule, rec.Document = ruleText(*j.maker)+ruleFor(*j.maker, ", "), j.maker.Rule().Document
	}
	t, ok := r.Measured()
	if !ok {
		return rec, nil
	}
	v, err := j.judge(r)
	if err != nil {
		return rec, err
	}
	rec.Reading, rec.Uncertainty = r.Reading.String(), fmt.Sprintf("%.2f", wear.ExpandedU(t.GaugeSD))
	rec.Verdict, rec.GeneralVerdict, rec.Loss = v.general.Verdict.String(), v.general.Verdict.String(), &v.general.Loss
	if v.maker != nil {
		rec.Verdict = v.maker.Verdict.String()
	}
	if l := v.general.Leak; l != nil {
		u := wear.ExpandedU(l.AreaU)
		rec.Area, rec.AreaU = &l.Area, &u
	}
	return rec, nil
}

func psiText(p *wear.PSI) string {
	if p == nil {
		return ""
	}
	return p.String()
}

// area writes the leak area with its U, "" where it has none.
func (r LeakRecord) area() string {
	if r.Area == nil {
		return ""
	}
	return fmt.Sprintf("%.2f ± %.2f mm²", *r.Area, *r.AreaU)
}

// plain is what a leak test comes to, in a cell.
func (r LeakRecord) plain() string {
	var parts []string
	if r.Loss != nil {
		parts = append(parts, fmt.Sprintf("loss %.1f %%", *r.Loss))
	}
	if r.Area != nil {
		parts = append(parts, "leak area "+r.area())
	}
	if r.Recheck != "" {
		parts = append(parts, "rechecked warm "+r.Recheck+" psi")
	}
	if len(r.Heard) > 0 {
		parts = append(parts, "air at "+strings.Join(r.Heard, ", "))
	}
	return strings.Join(parts, "; ")
}

// csvRow is a leak test among the rows of readings.
func (r LeakRecord) csvRow(p PartRecord) []string {
	return []string{p.Kind, p.Serial, p.PartNumber, p.Model, r.Day, r.EngineHours, "", "leak test", "", "through " + r.Orifice + " in", r.Regulated + " psi regulated", r.Reading, "", "psi", r.Uncertainty, r.Tester,
		"", r.Who, r.Verdict, r.plain(), yes(r.Struck), r.Reason, r.Note, "", r.Rule, r.Document, "", ""}
}

// paperLeaks is the leak tests on paper.
func paperLeaks(part PartRecord) views.PaperTable {
	t := views.PaperTable{Title: "Leak tests (differential compression), newest first", Heads: []string{"Date", "Eng. h", "Engine, pos.", "Held, psi", "Orifice", "Tester", "Leak area", "Remarks", "By", "Verdict"}, Widths: []float64{21, 14, 20, 17, 15, 22, 24, 30, 17, 20}}
	for _, r := range part.LeakTests {
		tester, verdict := r.Tester, r.Verdict
		if r.TesterOverdue {
			tester += " (overdue)"
		}
		if r.Reason != "" {
			verdict += "; corrected: " + r.Reason
		}
		if r.GeneralVerdict != r.Verdict {
			verdict += "; 25 % rule: " + r.GeneralVerdict
		}
		var remarks []string
		if r.Recheck != "" {
			remarks = append(remarks, "warm "+r.Recheck)
		}
		if len(r.Heard) > 0 {
			remarks = append(remarks, "air at "+strings.Join(r.Heard, ", "))
		}
		t.Rows = append(t.Rows, views.PaperRow{Struck: r.Struck, Cells: []string{r.Day, r.EngineHours, r.Engine + ", " + itoa(r.Position), r.Reading + " of " + r.Regulated, r.Orifice + " in", tester, r.area(), strings.Join(remarks, "; "), r.Who, verdict}})
	}
	return t
}
