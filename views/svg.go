package views

import (
	"html"
	"math"
	"strconv"
	"strings"
)

// drawing writes SVG. Attributes come in pairs of name and value: a string, an
// int, or a float64 in the units of the drawing.
type drawing struct{ b strings.Builder }

// open begins an element.
func (d *drawing) open(tag string, attrs ...any) {
	d.b.WriteString("<" + tag)
	for i := 0; i+1 < len(attrs); i += 2 {
		d.b.WriteString(" " + attrs[i].(string) + `="`)
		switch v := attrs[i+1].(type) {
		case string:
			d.b.WriteString(html.EscapeString(v))
		case int:
			d.b.WriteString(strconv.Itoa(v))
		case float64:
			d.b.WriteString(coord(v))
		}
		d.b.WriteString(`"`)
	}
	d.b.WriteString(">")
}

// close ends an element.
func (d *drawing) close(tag string) { d.b.WriteString("</" + tag + ">") }

// shape draws an element without content.
func (d *drawing) shape(tag string, attrs ...any) {
	d.open(tag, attrs...)
	d.close(tag)
}

// text draws an element with text in it.
func (d *drawing) text(tag, content string, attrs ...any) {
	d.open(tag, attrs...)
	d.b.WriteString(html.EscapeString(content))
	d.close(tag)
}

// glyph draws a word's mark of the given size about a middle.
func (d *drawing) glyph(word string, x, y, size float64) {
	d.shape("use", "href", "#"+symbolID(word), "x", x-size/2, "y", y-size/2, "width", size, "height", size)
}

func (d *drawing) String() string { return d.b.String() }

// place is a point on a drawing.
type place struct{ x, y float64 }

// finite reports whether x is neither infinite nor no number.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// coord writes a coordinate to a tenth of a unit. What is not finite or far
// off any drawing is brought back to where it does no harm.
func coord(x float64) string {
	const far = 1e5
	if math.IsNaN(x) {
		x = 0
	}
	x = math.Round(min(max(x, -far), far)*10) / 10
	return strconv.FormatFloat(x+0, 'f', -1, 64) // +0 makes -0 plain
}

// pathOf is the path through the points, closed where wanted.
func pathOf(points []place, closed bool) string {
	var b strings.Builder
	for i, p := range points {
		if i == 0 {
			b.WriteString("M")
		} else {
			b.WriteString("L")
		}
		b.WriteString(coord(p.x) + " " + coord(p.y))
	}
	if closed {
		b.WriteString("Z")
	}
	return b.String()
}

// shortened cuts a text to n characters.
func shortened(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}
