package server

import (
	"context"
	"image"
	"image/color"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"barrelbook/store"
)

// readCode reads the first QR code of a page with a library of other people's
// than the one that drew it.
func readCode(t *testing.T, page string) string {
	t.Helper()
	svg := regexp.MustCompile(`<svg class="qr" viewBox="0 0 (\d+) `).FindStringSubmatchIndex(page)
	if svg == nil {
		t.Fatal("no code on the page")
	}
	number := func(s string) int { return must[int](t)(strconv.Atoi(s)) }
	side, rest := number(page[svg[2]:svg[3]]), page[svg[0]:]
	drawing, _, _ := strings.Cut(rest, "</svg>")
	const pixels = 4
	picture := image.NewGray(image.Rect(0, 0, side*pixels, side*pixels))
	for i := range picture.Pix {
		picture.Pix[i] = 255
	}
	for _, run := range regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-\d+z`).FindAllStringSubmatch(drawing, -1) {
		x, y, wide := number(run[1]), number(run[2]), number(run[3])
		if x < 4 || y < 4 || x+wide > side-4 || y >= side-4 {
			t.Errorf("black at %d, %d: within the quiet zone of four modules", x, y) // ISO/IEC 18004
		}
		for px := x * pixels; px < (x+wide)*pixels; px++ {
			for py := y * pixels; py < (y+1)*pixels; py++ {
				picture.Set(px, py, color.Black)
			}
		}
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	ok(t, err)
	read, err := qrcode.NewQRCodeReader().Decode(bitmap, nil)
	ok(t, err)
	return read.GetText()
}

// TestTagCode: the code on a tag opens the part, at the shop's address where it
// gave one.
func TestTagCode(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	path := href("/parts/", b.cylinders[0])
	w := get(h, path+"/tag")
	if got := readCode(t, w.Body.String()); got != "http://localhost:8440"+path {
		t.Errorf("the code reads %q", got)
	}
	set, err := b.Settings(context.Background())
	ok(t, err)
	set.Address = "https://hangar.local:8444/"
	ok(t, b.SaveSettings(context.Background(), set))
	w = get(h, path+"/tag")
	check(t, "a tag with the shop's address", w, http.StatusOK, nil, []string{"only this computer"})
	if got := readCode(t, w.Body.String()); got != "https://hangar.local:8444"+path {
		t.Errorf("with the shop's address the code reads %q", got)
	}
	set.Address = "hangar"
	if err := b.SaveSettings(context.Background(), set); err == nil {
		t.Error("an address that is none was taken")
	}
}

// TestJobTags: a tag for each part of the job with what was decided, and only
// those that do not go back where that is asked.
func TestJobTags(t *testing.T) {
	ctx, b := context.Background(), fill(t)
	h, _ := serving(t, b.Book)
	move := func(kind string) {
		_, err := b.AddJobEntry(ctx, store.JobEntry{Job: b.job8, Kind: kind, Position: 8}, 1<<40)
		ok(t, err)
	}
	tags := href("/jobs/", b.job8, "/tags")
	move(store.JobPulled)
	check(t, "tags of what came off", get(h, tags), http.StatusOK, []string{"C-8", "position 8: oil use", "TSI"}, nil)
	check(t, "what leaves", get(h, tags+"?which=leaving"), http.StatusOK, nil, []string{"C-8"})
	ok(t, b.Decide(ctx, store.Decision{Job: b.job8, Part: b.cylinders[7], Position: 8, Disposition: "scrap", Reason: "cracked at the flange"}, "", 1<<40))
	ok(t, b.Place(ctx, b.job8, []store.Placing{{Position: 8, Kind: "cylinder", Part: b.shelf}}, "", 1<<40))
	check(t, "what leaves", get(h, tags+"?which=leaving"), http.StatusOK, []string{"C-8", "Scrap: cracked at the flange"}, nil)
	move(store.JobRefitted)
	ok(t, b.RefitJob(ctx, b.job8, "2025-01-05", 60_000, "A. Smith", "", 1<<40))
	check(t, "all after the refit", get(h, tags), http.StatusOK, []string{"C-8", "never fitted again", "C-90"}, nil)
	check(t, "a tag of its own", get(h, href("/parts/", b.cylinders[7], "/tag")), http.StatusOK, []string{"Scrap: cracked at the flange", "position 8"}, nil)
}
