package views

import (
	"fmt"
	"image"
	"strconv"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// quiet is the blank margin around a QR code in modules. Source: ISO/IEC
// 18004, 5.3.8 in the edition of 2015.
const quiet = 4

// qrModules are the rows of a QR code with its margin; true is black. Error
// correction is of level M: a greasy thumb may cover some of it.
func qrModules(text string) ([][]bool, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("make QR code: %w", err)
	}
	size := code.Bounds().Dx()
	rows := make([][]bool, size+2*quiet)
	for y := range rows {
		rows[y] = make([]bool, size+2*quiet)
		for x := range rows[y] {
			if (image.Point{x - quiet, y - quiet}).In(code.Bounds()) {
				r, _, _, _ := code.At(x-quiet, y-quiet).RGBA()
				rows[y][x] = r == 0
			}
		}
	}
	return rows, nil
}

// qrSVG draws a QR code, black on white in every theme, with label for those
// who cannot see it. Its size is the style sheet's: class qr.
func qrSVG(text, label string) (string, error) {
	rows, err := qrModules(text)
	if err != nil {
		return "", err
	}
	var path strings.Builder
	for y, row := range rows {
		for x := 0; x < len(row); x++ {
			if from := x; row[x] {
				for x < len(row) && row[x] {
					x++
				}
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from, y, x-from, x-from)
			}
		}
	}
	side := strconv.Itoa(len(rows))
	var d drawing
	d.open("svg", "class", "qr", "viewBox", "0 0 "+side+" "+side, "role", "img", "aria-label", label, "shape-rendering", "crispEdges")
	d.shape("rect", "width", side, "height", side, "fill", "#fff")
	d.shape("path", "d", path.String(), "fill", "#000")
	d.close("svg")
	return d.String(), nil
}

// QRText draws a QR code for a terminal, two rows of modules a line. It is
// meant for dark letters on a light ground.
func QRText(text string) (string, error) {
	rows, err := qrModules(text)
	if err != nil {
		return "", err
	}
	blocks := map[[2]bool]rune{{false, false}: ' ', {true, false}: '▀', {false, true}: '▄', {true, true}: '█'}
	var b strings.Builder
	for y := 0; y < len(rows); y += 2 {
		for x := range rows[y] {
			below := y+1 < len(rows) && rows[y+1][x]
			b.WriteRune(blocks[[2]bool{rows[y][x], below}])
		}
		b.WriteByte('\n')
	}
	return b.String(), nil
}
