package views

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// EntryPaper is the draft of a logbook entry as it is printed or copied.
type EntryPaper struct {
	RecordPaper
	Banner          string // that it is a draft nobody signed
	Blocks          []EntryBlock
	AttachmentTitle string
	AttachmentNote  string
	Attachment      []PaperTable
}

// EntryBlock is a part of a draft: its text, then lines left blank for a
// person, statements to choose from, and more blank lines.
type EntryBlock struct {
	Title   string
	Lines   []string
	Blanks  []EntryBlank
	Choices []string
	After   []EntryBlank
}

// EntryBlank is a line that is left blank. Note says what the book knows of it.
type EntryBlank struct{ Label, Note string }

func (b EntryBlank) text() string {
	if b.Note == "" {
		return b.Label
	}
	return b.Label + " (" + b.Note + ")"
}

const blankLine = "______________________________"

// Text is the draft as plain text.
func (p EntryPaper) Text() string {
	var b strings.Builder
	say := func(lines ...string) {
		for _, l := range lines {
			b.WriteString(l + "\n")
		}
	}
	say(p.Banner)
	if p.Demo != "" {
		say(p.Demo)
	}
	say("", p.Title, joined(", ", p.Shop, "made by Barrelbook "+p.Made))
	for _, block := range p.Blocks {
		say("", block.Title, underline(block.Title))
		say(block.Lines...)
		for _, x := range block.Blanks {
			say(x.text() + ": " + blankLine)
		}
		for _, c := range block.Choices {
			say("[ ] " + c)
		}
		for _, x := range block.After {
			say(x.text() + ": " + blankLine)
		}
	}
	say("", p.AttachmentTitle, underline(p.AttachmentTitle), p.AttachmentNote)
	for _, t := range p.Attachment {
		say("", t.Title)
		for _, r := range t.Rows {
			say("  " + strings.Join(filled(t.Heads, r.Cells), "; "))
		}
	}
	if len(p.Attachment) == 0 {
		say("No measurement was taken in this job.")
	}
	say("")
	say(p.Cautions...)
	say("", p.Banner)
	return b.String()
}

func underline(title string) string { return strings.Repeat("=", utf8.RuneCountInString(title)) }

// filled are the cells of a row that hold something; those whose meaning is
// not plain carry the head of their column.
func filled(heads, cells []string) []string {
	var out []string
	for i, c := range cells {
		switch {
		case c == "":
		case heads[i] == "Limits" || heads[i] == "Gauge" || heads[i] == "By":
			out = append(out, strings.ToLower(heads[i])+" "+c)
		default:
			out = append(out, c)
		}
	}
	return out
}

// WriteEntryPDF prints the draft, the measurements on pages of their own.
func WriteEntryPDF(w io.Writer, e EntryPaper) error {
	p := newPaper(e.RecordPaper)
	p.AddPage()
	p.font("B", 15)
	p.MultiCell(paperWide, 7, e.Title, "", "L", false)
	p.banner(e.Banner)
	for _, b := range e.Blocks {
		p.entryBlock(b)
	}
	p.AddPage()
	p.font("B", 13)
	p.MultiCell(paperWide, 7, e.AttachmentTitle, "", "L", false)
	p.font("", 9)
	p.MultiCell(paperWide, lineHigh, e.AttachmentNote, "", "L", false)
	for _, t := range e.Attachment {
		p.table(t)
	}
	if len(e.Attachment) == 0 {
		p.MultiCell(paperWide, lineHigh, "No measurement was taken in this job.", "", "L", false)
	}
	p.cautions()
	p.banner(e.Banner)
	if err := p.Output(w); err != nil {
		return fmt.Errorf("print draft entry: %w", err)
	}
	return nil
}

// banner is a frame with the words that it is a draft.
func (p *paper) banner(words string) {
	p.room(14)
	p.Ln(2)
	p.font("B", 10)
	p.MultiCell(paperWide, 8, words, "1", "C", false)
	p.Ln(1)
}

func (p *paper) entryBlock(b EntryBlock) {
	p.heading(b.Title)
	p.font("", 9.5)
	for _, l := range b.Lines {
		p.entryLine(l)
	}
	p.blanks(b.Blanks)
	p.font("", 9.5)
	for _, c := range b.Choices {
		p.room(12)
		y := p.GetY() + 2
		p.Rect(paperMargin+1, y, 3.5, 3.5, "D")
		p.SetXY(paperMargin+8, y-0.5)
		p.MultiCell(paperWide-8, lineHigh, c, "", "L", false)
	}
	p.blanks(b.After)
}

// entryLine draws a line of text, indented by the blanks before it.
func (p *paper) entryLine(l string) {
	words := strings.TrimLeft(l, " ")
	indent := 2 * float64(len(l)-len(words))
	if words == "" {
		p.Ln(2.2)
		return
	}
	p.room(lineHigh * 2)
	p.SetX(paperMargin + indent)
	p.MultiCell(paperWide-indent, lineHigh, words, "", "L", false)
}

// blanks draws lines to be filled in by hand.
func (p *paper) blanks(bs []EntryBlank) {
	p.room(float64(len(bs)) * 9)
	for _, b := range bs {
		p.font("", 9)
		y := p.GetY()
		p.CellFormat(paperWide, 5, b.Label, "", 2, "L", false, 0, "")
		if b.Note != "" {
			p.font("", 7.5)
			p.SetTextColor(90, 90, 90)
			p.CellFormat(paperWide, 3.2, b.Note, "", 2, "L", false, 0, "")
			p.SetTextColor(0, 0, 0)
		}
		p.Line(paperMargin+98, y+6.5, paperMargin+paperWide, y+6.5)
		p.SetXY(paperMargin, y+9)
	}
}
