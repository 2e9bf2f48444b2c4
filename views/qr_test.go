package views

import (
	"image"
	"image/color"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// readQR reads a code with a library of other people's than the one that made
// it, and returns its text and level of error correction.
func readQR(t *testing.T, rows [][]bool) (text, level string) {
	t.Helper()
	const pixels = 4
	picture := image.NewGray(image.Rect(0, 0, len(rows[0])*pixels, len(rows)*pixels))
	for y := range picture.Bounds().Dy() {
		for x := range picture.Bounds().Dx() {
			if !rows[y/pixels][x/pixels] {
				picture.Set(x, y, color.White)
			}
		}
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		t.Fatal(err)
	}
	read, err := qrcode.NewQRCodeReader().Decode(bitmap, nil)
	if err != nil {
		t.Fatalf("read code: %v", err)
	}
	level, _ = read.GetResultMetadata()[gozxing.ResultMetadataType_ERROR_CORRECTION_LEVEL].(string)
	return read.GetText(), level
}

// TestQRReads: a reader gets the text back, from the drawing and from the
// terminal's blocks, at level M with a margin of four modules.
func TestQRReads(t *testing.T) {
	for _, text := range []string{"http://192.168.1.5:8444", "http://[fd12:3456:789a::1234]:65535", "https://hangar.local:8443/parts/123456?from=tag", "12345", "PN-7 C-1041", "Ö ≥ 1"} {
		svg, err := qrSVG(text, "code of <"+text+">")
		if err != nil {
			t.Fatal(err)
		}
		block, err := QRText(text)
		if err != nil {
			t.Fatal(err)
		}
		drawn := fromSVG(t, svg)
		for what, rows := range map[string][][]bool{"the drawing": drawn, "the blocks": fromBlocks(block, len(drawn))} {
			if got, level := readQR(t, rows); got != text || level != "M" {
				t.Errorf("%s of %q reads %q at level %s", what, text, got, level)
			}
			for i := range rows {
				for _, edge := range [][2]int{{3, i}, {len(rows) - 4, i}, {i, 3}, {i, len(rows) - 4}} {
					if rows[edge[0]][edge[1]] {
						t.Errorf("%s of %q is black at %v, in its margin", what, text, edge)
					}
				}
			}
			if !rows[4][4] || !rows[4][len(rows)-5] || !rows[len(rows)-5][4] {
				t.Errorf("%s of %q: the margin is wider than four modules", what, text)
			}
		}
		if !strings.Contains(svg, `fill="#fff"`) || !strings.Contains(svg, `fill="#000"`) || !strings.Contains(svg, "code of &lt;") || strings.Contains(svg, "style=") {
			t.Errorf("the drawing begins %.300s", svg)
		}
	}
	if _, err := qrSVG(strings.Repeat("x", 3000), ""); err == nil {
		t.Error("3,000 letters fit in a code")
	}
}

// fromSVG reads the runs of the drawing's path.
func fromSVG(t *testing.T, svg string) [][]bool {
	t.Helper()
	box := regexp.MustCompile(`viewBox="0 0 (\d+) (\d+)"`).FindStringSubmatch(svg)
	runs := regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`).FindAllStringSubmatch(svg, -1)
	if box == nil || box[1] != box[2] || len(runs) == 0 {
		t.Fatalf("no drawing: %.200s", svg)
	}
	number := func(s string) int {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	rows := make([][]bool, number(box[1]))
	for y := range rows {
		rows[y] = make([]bool, len(rows))
	}
	for _, run := range runs {
		for x := range number(run[3]) {
			rows[number(run[2])][number(run[1])+x] = true
		}
	}
	return rows
}

// fromBlocks reads two rows of modules from each line.
func fromBlocks(text string, side int) [][]bool {
	var rows [][]bool
	for line := range strings.Lines(text) {
		var upper, lower []bool
		for _, r := range strings.TrimSuffix(line, "\n") {
			upper, lower = append(upper, r == '▀' || r == '█'), append(lower, r == '▄' || r == '█')
		}
		rows = append(rows, upper, lower)
	}
	return rows[:side]
}
