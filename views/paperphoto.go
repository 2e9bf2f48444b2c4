package views

import (
	"bytes"
	"fmt"

	"github.com/go-pdf/fpdf"
)

// PaperPhoto is a photograph on paper.
type PaperPhoto struct {
	Name, About, Note string
	JPEG              []byte
}

// photos draws photographs three a line, each in a box of its own.
func (p *paper) photos() {
	if len(p.r.Photos) == 0 {
		return
	}
	const across, high = 3, 42.0
	wide := paperWide / across
	p.room(high + 30)
	p.heading("Photographs")
	for i := 0; i < len(p.r.Photos); i += across {
		p.room(high + 16)
		y := p.GetY()
		for j, f := range p.r.Photos[i:min(i+across, len(p.r.Photos))] {
			p.photo(f, fmt.Sprintf("photo-%d", i+j), paperMargin+float64(j)*wide, y, wide-3, high)
		}
		p.SetXY(paperMargin, y+high+15)
	}
}

// photo draws one picture into a box, as large as it fits, and what it shows
// below.
func (p *paper) photo(f PaperPhoto, name string, x, y, wide, high float64) {
	kind := fpdf.ImageOptions{ImageType: "JPG"}
	info := p.RegisterImageOptionsReader(name, kind, bytes.NewReader(f.JPEG))
	if info == nil || info.Width() <= 0 || info.Height() <= 0 {
		return
	}
	scale := min(wide/info.Width(), high/info.Height())
	p.ImageOptions(name, x, y, info.Width()*scale, info.Height()*scale, false, kind, 0, "")
	p.SetXY(x, y+high+1)
	for _, line := range []struct{ style, text string }{{"B", f.Name}, {"", f.About}, {"", f.Note}} {
		p.font(line.style, 7.5)
		p.SetX(x)
		p.CellFormat(wide, 3.6, p.fit(line.text, wide-2), "", 2, "L", false, 0, "")
	}
}
