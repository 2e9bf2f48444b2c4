package server

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// fewRecords is how many engines and parts the page of records offers at
// once; a search finds the others.
const fewRecords = 20

// chooseRecord offers records of engines and parts.
func (s *Server) chooseRecord(w http.ResponseWriter, r *http.Request) error {
	ctx, q := r.Context(), r.URL.Query().Get("q")
	es, engines, err := s.book.Engines(ctx, q, fewRecords, 0)
	if err != nil {
		return err
	}
	ps, parts, err := s.book.Parts(ctx, store.PartFilter{Words: q, Limit: fewRecords})
	if err != nil {
		return err
	}
	p := views.RecordChoose{Page: s.page(r, "Record", views.NavRecord), Query: q, MoreEngines: engines - len(es), MoreParts: parts - len(ps), Empty: engines+parts == 0 && q == ""}
	row := func(kind string, id int64, name, about string) views.RecordRow {
		base := href("/record/", kind, "/", id)
		return views.RecordRow{Name: name, About: about, Href: href("/", kind, "s/", id), PDF: base + ".pdf", CSV: base + ".csv", JSON: base + ".json"}
	}
	for _, e := range es {
		p.Engines = append(p.Engines, row("engine", e.ID, "Engine "+e.Serial, strings.TrimSpace(e.Model.Name+" "+e.Aircraft)))
	}
	for _, x := range ps {
		p.Parts = append(p.Parts, row("part", x.ID, partName(x.Kind, x.Serial), s.partRow(r, x).Where))
	}
	return s.draw(w, r, http.StatusOK, views.RecordChoosePage(p))
}

func (s *Server) partRecord(w http.ResponseWriter, r *http.Request) error {
	return s.sendRecord(w, r, PartRecordOf)
}

func (s *Server) engineRecord(w http.ResponseWriter, r *http.Request) error {
	return s.sendRecord(w, r, EngineRecordOf)
}

func (s *Server) sendRecord(w http.ResponseWriter, r *http.Request, of func(context.Context, *store.Book, int64) (Record, error)) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	rec, err := of(r.Context(), s.book, n)
	if err != nil {
		return err
	}
	format := chi.URLParam(r, "format")
	kind, ok := map[string]string{"pdf": "application/pdf", "csv": "text/csv; charset=utf-8", "json": "application/json"}[format]
	if !ok {
		return errBadAddress
	}
	var buf bytes.Buffer
	if err := WriteRecord(r.Context(), s.book, &buf, rec, format); err != nil {
		return err
	}
	show := "attachment"
	if format == "pdf" {
		show = "inline"
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", fmt.Sprintf("%s; filename=%q", show, "barrelbook-"+rec.Name()+"."+format))
	w.Header().Set("Cache-Control", "no-store")
	if _, err := buf.WriteTo(w); err != nil {
		s.log.Debug("send record", "error", err) // the reader went away
	}
	return nil
}

// WriteRecord writes a record as pdf, csv or json.
func WriteRecord(ctx context.Context, book *store.Book, w io.Writer, rec Record, format string) error {
	switch format {
	case "json":
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(rec)
	case "csv":
		return writeRecordCSV(w, rec)
	case "pdf":
		paper, err := recordPaper(ctx, book, rec)
		if err != nil {
			return err
		}
		return views.WriteRecordPDF(w, paper)
	}
	return fmt.Errorf("write record: %q is none of pdf, csv, json", format)
}

// writeRecordCSV writes one row a reading, with the part it belongs to. Cells
// that a spreadsheet might take for a formula are made plain text.
func writeRecordCSV(w io.Writer, rec Record) error {
	out := csv.NewWriter(w)
	rows := [][]string{{"kind", "serial", "part_number", "engine_model", "date", "engine_hours", "hours_in_run", "feature", "groove", "station", "axis", "value", "value_at_20_c", "unit", "expanded_uncertainty", "gauge",
		"temperature_c", "who", "verdict", "plain_comparison", "struck", "reason", "note", "limit_new", "limit_service", "document", "revision", "page"}}
	for _, p := range rec.Parts {
		for _, x := range p.Readings {
			temperature := ""
			if x.Temperature != nil {
				temperature = strconv.FormatFloat(*x.Temperature, 'g', -1, 64)
			}
			l := x.limit
			rows = append(rows, []string{p.Kind, p.Serial, p.PartNumber, p.Model, x.Day, x.EngineHours, x.RunHours, x.Feature, number(x.Groove), x.Station, x.Axis, x.Value, x.At20, x.Unit, x.Uncertainty, x.Gauge,
				temperature, x.Who, x.Verdict, x.Plain, yes(x.Struck), x.Reason, x.Note, l.New, l.Service, l.Document, l.Revision, l.Page})
		}
		for _, x := range p.LeakTests {
			rows = append(rows, x.csvRow(p))
		}
	}
	for n, row := range rows {
		if n == 0 {
			row = append(row, "record_made", "audit_head")
		} else {
			row = append(row, rec.Made, rec.Audit.Head)
		}
		for i := range row {
			row[i] = safeCell(row[i])
		}
		if err := out.Write(row); err != nil {
			return fmt.Errorf("write csv: %w", err)
		}
	}
	out.Flush()
	return out.Error()
}

// utcDay is the day of a moment, in UTC as all moments of a record.
func utcDay(moment string) string { return moment[:min(len(moment), 10)] }

func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// recordPaper turns a record into what is printed.
func recordPaper(ctx context.Context, book *store.Book, rec Record) (views.RecordPaper, error) {
	p := views.RecordPaper{Title: "Condition record", Shop: rec.Shop, Made: rec.Made[:16] + " UTC", Notice: rec.Notice, Cautions: rec.Cautions,
		Head: fmt.Sprintf("Audit entry %d of %s, hash %s", rec.Audit.Entries, utcDay(rec.Audit.At), rec.Audit.Head)}
	p.Made = strings.Replace(p.Made, "T", " ", 1)
	if rec.Demo {
		p.Demo = "Demo book: invented operator, engines, limits and numbers."
	}
	if e := rec.Engine; e != nil {
		p.Title += ": engine " + e.Serial
		p.Facts = []views.Fact{{Label: "Model", Value: e.Model}, {Label: "Aircraft", Value: e.Aircraft}, {Label: "Engine hours", Value: e.Hours + " h on " + e.HoursDay}, {Label: "Arrangement", Value: fmt.Sprintf("%s, %d cylinders", e.Arrangement, e.Cylinders)}}
		if e.MasterRod > 0 {
			p.Facts = append(p.Facts, views.Fact{Label: "Master-rod cylinder", Value: itoa(e.MasterRod)})
		}
	} else {
		p.Title += ": " + rec.Parts[0].Kind + " " + rec.Parts[0].Serial
	}
	if rec.Engine != nil {
		p.Summary = paperSummary(rec)
	}
	for _, part := range rec.Parts {
		v, err := paperPart(ctx, book, part, rec.Engine == nil)
		if err != nil {
			return p, err
		}
		p.Parts = append(p.Parts, v)
		photos, err := paperPhotos(ctx, book, v.Name, part.Photos)
		if err != nil {
			return p, err
		}
		p.Photos = append(p.Photos, photos...)
	}
	photos, err := paperPhotos(ctx, book, "", rec.Photos)
	p.Photos = append(p.Photos, photos...)
	return p, err
}

// paperSummary is an engine's parts, a line each.
func paperSummary(rec Record) views.PaperTable {
	t := views.PaperTable{Title: "Parts on the engine", Heads: []string{"Pos.", "Part", "Part number", "Since inst., h", "Since new, h", "Worst verdict", "Wear"}, Widths: []float64{11, 26, 24, 22, 22, 20, 55}}
	for _, p := range rec.Parts {
		place, verdict, wears := "", "", ""
		for _, s := range p.Installations {
			if s.To == "" && s.Struck == "" {
				place = itoa(s.Position)
			}
		}
		if f := p.worst; f != nil {
			verdict = f.Verdict.String()
			for _, x := range p.Findings {
				if x.Verdict == wear.Beyond.String() {
					verdict = x.Verdict
				}
			}
			if wears = f.State.String(); f.Flagged() {
				wears += ": " + f.Sentence
			}
		}
		sinceNew := p.SinceNew
		if !p.NewKnown {
			sinceNew = "not known"
		}
		t.Rows = append(t.Rows, views.PaperRow{Cells: []string{place, capital(p.Kind) + " " + p.Serial, p.PartNumber, p.SinceInstall, sinceNew, verdict, wears}})
	}
	return t
}

// paperPart is one part on paper; its chart is drawn for a part alone, and on
// an engine's record for the parts that are findings.
func paperPart(ctx context.Context, book *store.Book, part PartRecord, alone bool) (views.PaperPart, error) {
	v := views.PaperPart{Name: capital(part.Kind) + " " + part.Serial, Facts: paperFacts(part), Tables: paperTables(part)}
	for _, f := range part.Findings {
		if f.Flagged || f.Verdict == "beyond" {
			v.Sentences = append(v.Sentences, fmt.Sprintf("%s: %s%s", findingPlace(f), verdictWord(f), f.Sentence))
		}
	}
	if part.worst == nil || !alone && len(v.Sentences) == 0 {
		return v, nil
	}
	d, err := readDossier(ctx, book, part.book, "")
	if err != nil {
		return v, err
	}
	x, err := book.Explain(ctx, part.worst.Series)
	if err != nil {
		return v, err
	}
	f := d.features[x.Feature]
	chart := d.chart(x, f, store.UnitFor(f, d.set.Unit), false)
	v.Chart = &chart
	if len(v.Sentences) == 0 && part.worst.Sentence != "" {
		v.Sentences = []string{capital(what(*part.worst)) + ": " + part.worst.Sentence}
	}
	return v, nil
}

func verdictWord(f FindingRecord) string {
	if f.beyond == "" {
		return ""
	}
	return f.beyond + ". "
}

func findingPlace(f FindingRecord) string {
	t := capital(f.Feature)
	if s := spot(f.Groove, f.Station, ""); s != "" {
		t += ", " + s
	}
	return t
}

func paperFacts(part PartRecord) []views.Fact {
	var facts []views.Fact
	withUnit := func(h string) string {
		if h == "" {
			return ""
		}
		return h + " h"
	}
	for _, f := range []views.Fact{{Label: "Part number", Value: part.PartNumber}, {Label: "Fits", Value: part.Model}, {Label: "Source", Value: part.Source}, {Label: "Status", Value: part.Status}, {Label: "Barrel surface", Value: part.Surface},
		{Label: "Ring facing", Value: part.Facing}, {Label: "Groove", Value: number(part.Groove)}, {Label: "Oversize", Value: part.Oversize}, {Label: hoursLabel(part), Value: withUnit(part.SinceNew)}, {Label: "Hours since overhaul", Value: withUnit(part.SinceOverhaul)},
		{Label: "Hours since installation", Value: withUnit(part.SinceInstall)}} {
		if f.Value != "" {
			facts = append(facts, f)
		}
	}
	return facts
}

func hoursLabel(part PartRecord) string {
	if part.NewKnown {
		return "Hours since new"
	}
	return "Hours since it came into the book"
}

func paperTables(part PartRecord) []views.PaperTable {
	stays := views.PaperTable{Title: "Where it was", Heads: []string{"Engine", "Position", "From", "Eng. h", "To", "Eng. h", "Reason out"}, Widths: []float64{3, 2, 2.4, 2, 2.4, 2, 5}}
	for _, s := range part.Installations {
		stays.Rows = append(stays.Rows, views.PaperRow{Cells: []string{s.Engine, strings.TrimSuffix(fmt.Sprintf("%d %s", s.Position, spot(s.Groove, "", "")), " "), s.From, s.FromHours, s.To, s.ToHours, s.remark()}, Struck: s.Struck != ""})
	}
	events := views.PaperTable{Title: "Work that began a run", Heads: []string{"Date", "Part hours", "Work"}, Widths: []float64{2, 2, 10}}
	for _, e := range part.Events {
		events.Rows = append(events.Rows, views.PaperRow{Cells: []string{e.Day, e.Hours, e.Event}})
	}
	limits := views.PaperTable{Title: "Limits it is held to, as typed by the shop", Heads: []string{"Feature", "New", "Service", "Unit", "Document", "Rev.", "Page"}, Widths: []float64{3.4, 4, 3.6, 1.2, 5, 1.4, 1.4}}
	for _, l := range part.Limits {
		limits.Rows = append(limits.Rows, views.PaperRow{Cells: []string{strings.TrimSuffix(l.Feature+", "+spot(l.Groove, "", ""), ", "), l.New, l.Service, l.Unit, l.Document, l.Revision, l.Page}})
	}
	tables := []views.PaperTable{stays, events, limits, paperReadings(part)}
	if len(part.LeakTests) > 0 {
		tables = append(tables, paperLeaks(part))
	}
	return tables
}

func paperReadings(part PartRecord) views.PaperTable {
	t := views.PaperTable{Title: "Measurements, newest first", Heads: []string{"Date", "Eng. h", "Run h", "Feature", "Spot", "Value", "± U", "Gauge", "°C", "By", "Verdict"}, Widths: []float64{22, 14, 13, 22, 22, 19, 15, 20, 10, 17, 20}}
	for _, x := range part.Readings {
		temperature := ""
		if x.Temperature != nil {
			temperature = strconv.FormatFloat(*x.Temperature, 'g', 3, 64)
		}
		gauge := x.Gauge
		if x.GaugeOverdue {
			gauge += " (overdue)"
		}
		value := x.Value + " " + x.Unit
		if x.At20 != "" && x.At20 != x.Value {
			value += "; " + at20(x.At20, true)
		}
		verdict := x.Verdict
		if x.Reason != "" {
			verdict += "; corrected: " + x.Reason
		}
		t.Rows = append(t.Rows, views.PaperRow{Struck: x.Struck, Cells: []string{x.Day, x.EngineHours, x.RunHours, x.Feature, spot(x.Groove, x.Station, x.Axis), value, x.Uncertainty, gauge, temperature, x.Who, verdict}})
	}
	return t
}

// remark is why a part came out, why the entry was struck, and why the part
// was fitted although a ring's facing or pressure speaks against it.
func (s StayRecord) remark() string {
	text := s.ReasonOut + s.Struck
	if s.Despite == "" {
		return text
	}
	return strings.TrimPrefix(text+"; "+views.FittedDespite+s.Despite, "; ")
}
