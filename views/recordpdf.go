package views

import (
	"fmt"
	"io"
	"strings"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// RecordPaper is a record as it is printed: one part, or an engine with its
// parts.
type RecordPaper struct {
	Title    string // "Condition record: cylinder C-1041"
	Shop     string
	Made     string
	Head     string // of the audit, to be compared later
	Notice   string // draft, not a release to service
	Demo     string // what stands on every page of an invented book; "" otherwise
	Facts    []Fact
	Summary  PaperTable // every part in a line; nothing for a single part
	Parts    []PaperPart
	Photos   []PaperPhoto
	Cautions []string
}

// PaperPart is one part of a printed record.
type PaperPart struct {
	Name      string
	Facts     []Fact
	Sentences []string
	Chart     *WearChart
	Tables    []PaperTable
}

// PaperTable is a table of a printed record. Struck rows are drawn with a line
// through them.
type PaperTable struct {
	Title  string
	Heads  []string
	Widths []float64 // shares of the width
	Rows   []PaperRow
}

// PaperRow is a row of a table.
type PaperRow struct {
	Cells  []string
	Struck bool
}

// Measures of the paper: A4, millimetres.
const (
	paperMargin = 15.0
	paperWide   = 210.0 - 2*paperMargin
	lineHigh    = 4.6
	cellFont    = 7.4 // points
	paperFont   = "go"
)

// paper is a record being printed.
type paper struct {
	*fpdf.Fpdf
	r RecordPaper
}

// WriteRecordPDF prints a record: page numbers and the notice on every page,
// the cautions, blank lines for date, signature, certificate number and kind of
// certificate (14 CFR 43.9), and photographs, small, at its end.
func WriteRecordPDF(w io.Writer, r RecordPaper) error {
	p := newPaper(r)
	p.AddPage()
	p.font("B", 15)
	p.MultiCell(paperWide, 7, r.Title, "", "L", false)
	p.facts(r.Facts)
	if len(r.Summary.Rows) > 0 {
		p.table(r.Summary)
	}
	for i, part := range r.Parts {
		if i > 0 && p.GetY() > 200 {
			p.AddPage()
		}
		p.part(part)
	}
	p.cautions()
	p.signature()
	p.photos()
	if err := p.Output(w); err != nil {
		return fmt.Errorf("print record: %w", err)
	}
	return nil
}

// newPaper is an empty paper with its head and foot.
func newPaper(r RecordPaper) *paper {
	p := &paper{fpdf.New("P", "mm", "A4", ""), r}
	p.AddUTF8FontFromBytes(paperFont, "", goregular.TTF)
	p.AddUTF8FontFromBytes(paperFont, "B", gobold.TTF)
	p.SetMargins(paperMargin, 22, paperMargin)
	p.SetAutoPageBreak(true, 20)
	p.AliasNbPages("{pages}")
	p.SetTitle(r.Title, true)
	p.SetCreator("Barrelbook", true)
	p.SetHeaderFunc(p.head)
	p.SetFooterFunc(p.foot)
	return p
}

func (p *paper) font(style string, size float64) { p.SetFont(paperFont, style, size) }

func (p *paper) head() {
	p.SetY(9)
	p.font("", 8.5)
	p.SetTextColor(70, 70, 70)
	p.CellFormat(paperWide/2, 5, p.r.Shop, "", 0, "L", false, 0, "")
	p.CellFormat(paperWide/2, 5, p.r.Notice, "", 1, "R", false, 0, "")
	if p.r.Demo != "" {
		p.CellFormat(paperWide, 4, p.r.Demo, "", 1, "R", false, 0, "")
	}
	p.SetDrawColor(90, 90, 90)
	p.Line(paperMargin, 19, paperMargin+paperWide, 19)
	p.SetTextColor(0, 0, 0)
	p.SetY(22)
}

func (p *paper) foot() {
	p.SetY(-14)
	p.font("", 8.5)
	p.SetTextColor(70, 70, 70)
	p.CellFormat(paperWide/2, 5, "Made by Barrelbook, "+p.r.Made, "", 0, "L", false, 0, "")
	p.CellFormat(paperWide/2, 5, fmt.Sprintf("page %d of {pages}", p.PageNo()), "", 1, "R", false, 0, "")
	p.font("", 6.5)
	p.CellFormat(paperWide, 3, p.r.Head, "", 0, "L", false, 0, "")
	p.SetTextColor(0, 0, 0)
}

// facts are drawn three a line.
func (p *paper) facts(fs []Fact) {
	p.Ln(1)
	const across = 3
	wide := paperWide / across
	for i := 0; i < len(fs); i += across {
		p.room(10)
		y := p.GetY()
		for j, f := range fs[i:min(i+across, len(fs))] {
			p.SetXY(paperMargin+float64(j)*wide, y)
			p.font("", 7.5)
			p.SetTextColor(90, 90, 90)
			p.CellFormat(wide, 3.6, f.Label, "", 2, "L", false, 0, "")
			p.font("", 10)
			p.SetTextColor(0, 0, 0)
			p.CellFormat(wide, 5, p.fit(f.Value, wide-2), "", 0, "L", false, 0, "")
		}
		p.SetXY(paperMargin, y+9.5)
	}
}

// fit shortens a text to a width.
func (p *paper) fit(s string, wide float64) string {
	if p.GetStringWidth(s) <= wide {
		return s
	}
	runes := []rune(s)
	for len(runes) > 1 && p.GetStringWidth(string(runes)+"…") > wide {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// room turns the page where less than so much is left of it.
func (p *paper) room(high float64) {
	if p.GetY()+high > 297-20 {
		p.AddPage()
	}
}

func (p *paper) heading(text string) {
	p.room(16)
	p.Ln(3)
	p.font("B", 10.5)
	p.CellFormat(paperWide, 6, text, "B", 1, "L", false, 0, "")
	p.Ln(1)
}

func (p *paper) part(part PaperPart) {
	p.room(40)
	p.Ln(2)
	p.SetFillColor(235, 235, 235)
	p.font("B", 12)
	p.CellFormat(paperWide, 8, part.Name, "", 1, "L", true, 0, "")
	p.facts(part.Facts)
	p.font("", 10)
	for _, s := range part.Sentences {
		p.room(6)
		p.MultiCell(paperWide, 5, s, "", "L", false)
	}
	if part.Chart != nil {
		p.chart(*part.Chart)
	}
	for _, t := range part.Tables {
		if len(t.Rows) > 0 {
			p.table(t)
		}
	}
}

// table draws a table whose cells wrap, and its heads again on each page.
func (p *paper) table(t PaperTable) {
	p.heading(t.Title)
	widths := make([]float64, len(t.Widths))
	total := 0.0
	for _, w := range t.Widths {
		total += w
	}
	for i, w := range t.Widths {
		widths[i] = w / total * paperWide
	}
	heads := func() { p.row(PaperRow{Cells: t.Heads}, widths, "B") }
	heads()
	for _, r := range t.Rows {
		if p.GetY()+p.rowHigh(r, widths, "") > 297-20 {
			p.AddPage()
			heads()
		}
		p.row(r, widths, "")
	}
}

// cellLines are the lines that a text takes in a width.
func (p *paper) cellLines(text string, wide float64) []string {
	if strings.TrimSpace(text) == "" {
		return []string{""}
	}
	return p.SplitText(text, wide-2)
}

func (p *paper) rowHigh(r PaperRow, widths []float64, style string) float64 {
	p.font(style, cellFont)
	lines := 1
	for i, c := range r.Cells {
		lines = max(lines, len(p.cellLines(c, widths[i])))
	}
	return float64(lines)*3.9 + 1
}

func (p *paper) row(r PaperRow, widths []float64, style string) {
	high := p.rowHigh(r, widths, style)
	p.font(style, cellFont)
	x, y := paperMargin, p.GetY()
	for i, c := range r.Cells {
		for k, line := range p.cellLines(c, widths[i]) {
			p.SetXY(x, y+float64(k)*3.9)
			p.CellFormat(widths[i], 3.9, line, "", 0, "L", false, 0, "")
			if r.Struck && line != "" {
				p.Line(x+1, y+float64(k)*3.9+2, x+1+p.GetStringWidth(line), y+float64(k)*3.9+2)
			}
		}
		x += widths[i]
	}
	p.SetDrawColor(190, 190, 190)
	p.Line(paperMargin, y+high, paperMargin+paperWide, y+high)
	p.SetDrawColor(60, 60, 60)
	p.SetXY(paperMargin, y+high+0.4)
}

func (p *paper) cautions() {
	p.heading("Cautions")
	p.font("", 9)
	for _, c := range p.r.Cautions {
		p.room(lineHigh * 2)
		p.MultiCell(paperWide, lineHigh, "– "+c, "", "L", false)
	}
}

// signature leaves blank what a person has to fill in: nothing here is ever
// filled by the program. Contents of the entry: 14 CFR 43.9(a).
func (p *paper) signature() {
	p.room(58)
	p.heading("To be completed by the person approving the work (14 CFR 43.9)")
	p.font("", 9)
	for _, label := range []string{"Description of the work, or reference to acceptable data", "Date of completion", "Name of the person who did the work", "Signature", "Certificate number", "Kind of certificate"} {
		p.CellFormat(70, 8, label, "", 0, "L", false, 0, "")
		y := p.GetY() + 6.5
		p.Line(paperMargin+88, y, paperMargin+paperWide, y)
		p.Ln(8)
	}
}
