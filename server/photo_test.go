package server

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"barrelbook/store"
)

// stripes is a picture whose corners differ: red at the top left, green at the
// top right, blue at the bottom left, white at the bottom right.
func stripes(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{255, 0, 0, 255}
			switch left, top := x < w/2, y < h/2; {
			case top && !left:
				c = color.RGBA{0, 255, 0, 255}
			case !top && left:
				c = color.RGBA{0, 0, 255, 255}
			case !top:
				c = color.RGBA{255, 255, 255, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func encoded(t testing.TB, img image.Image, kind string) []byte {
	t.Helper()
	var buf bytes.Buffer
	if kind == "png" {
		ok(t, png.Encode(&buf, img))
	} else {
		ok(t, jpeg.Encode(&buf, img, &jpeg.Options{Quality: 95}))
	}
	return buf.Bytes()
}

// withExif puts an Exif segment with an orientation and a place into a JPEG:
// tag 274 orientation, tag 34853 the directory of GPS, in which tag 1 is N.
// Source of the layout: CIPA DC-008 (Exif 2.32), 4.5, 4.6.3, 4.6.6, 4.7.2.
func withExif(file []byte, order binary.ByteOrder, orientation uint16) []byte {
	var t bytes.Buffer
	mark := "MM"
	if order == binary.LittleEndian {
		mark = "II"
	}
	t.WriteString(mark)
	put := func(v any) { _ = binary.Write(&t, order, v) }
	put(uint16(42))
	put(uint32(8))
	put(uint16(2))
	put([]uint16{274, 3})
	put(uint32(1))
	put([]uint16{orientation, 0})
	put([]uint16{34853, 4})
	put([]uint32{1, 38, 0})
	put(uint16(1))
	put([]uint16{1, 2})
	put(uint32(2))
	t.WriteString("N\x00\x00\x00")
	put(uint32(0))
	t.WriteString("GPS-PLACE")
	body := append([]byte("Exif\x00\x00"), t.Bytes()...)
	segment := binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(body)+2))
	return append(append(append([]byte{}, file[:2]...), append(segment, body...)...), file[2:]...)
}

// segments are the markers of a JPEG before its pixels.
func segments(t testing.TB, file []byte) []byte {
	t.Helper()
	var markers []byte
	for at := 2; file[at+1] != 0xda; at += 2 + int(binary.BigEndian.Uint16(file[at+2:])) {
		if file[at] != 0xff {
			t.Fatalf("no marker at %d", at)
		}
		markers = append(markers, file[at+1])
	}
	return markers
}

// corners names the colours of a picture's corners, left to right, top down.
func corners(t testing.TB, file []byte) string {
	t.Helper()
	img, _, err := image.Decode(bytes.NewReader(file))
	ok(t, err)
	b := img.Bounds()
	name := func(x, y int) string {
		r, g, blue, _ := img.At(x, y).RGBA()
		switch high := func(v uint32) bool { return v > 0x8000 }; {
		case high(r) && high(g) && high(blue):
			return "white"
		case high(r):
			return "red"
		case high(g):
			return "green"
		}
		return "blue"
	}
	dx, dy := b.Dx()/4, b.Dy()/4
	return strings.Join([]string{name(dx, dy), name(b.Dx()-1-dx, dy), name(dx, b.Dy()-1-dy), name(b.Dx()-1-dx, b.Dy()-1-dy)}, " ")
}

// TestPhotoRightWayUp: where row 0 and column 0 of the file belong, by
// orientation: CIPA DC-008 (Exif 2.32), 4.6.4, tag 274: 1 top left, 2 top
// right, 3 bottom right, 4 bottom left, 5 left top, 6 right top, 7 right
// bottom, 8 left bottom.
func TestPhotoRightWayUp(t *testing.T) {
	plain := encoded(t, stripes(80, 40), "jpeg")
	for orientation, want := range map[uint16]string{
		0: "red green blue white", 1: "red green blue white", 2: "green red white blue", 3: "white blue green red", 4: "blue white red green",
		5: "red blue green white", 6: "blue red white green", 7: "white green blue red", 8: "green white red blue", 9: "red green blue white",
	} {
		for _, order := range []binary.ByteOrder{binary.BigEndian, binary.LittleEndian} {
			file := withExif(plain, order, orientation)
			if !bytes.Contains(file, []byte("GPS-PLACE")) || !bytes.Contains(segments(t, file), []byte{0xe1}) {
				t.Fatal("the file sent has no place in it")
			}
			p := must[store.NewPhoto](t)(readPhoto(file))
			for what, kept := range map[string][]byte{"the picture": p.Bytes, "the small picture": p.Small} {
				if bytes.Contains(kept, []byte("GPS-PLACE")) || bytes.Contains(kept, []byte("Exif")) {
					t.Errorf("%s, orientation %d: the place is still there", what, orientation)
				}
				for _, m := range segments(t, kept) {
					if m >= 0xe0 && m <= 0xef || m == 0xfe {
						t.Errorf("%s, orientation %d: has a segment %x", what, orientation, m)
					}
				}
				if got := corners(t, kept); got != want {
					t.Errorf("%s, orientation %d: %s, want %s", what, orientation, got, want)
				}
			}
			if turned := orientation >= 5 && orientation <= 8; turned != (p.Width == 40) {
				t.Errorf("orientation %d: %d by %d", orientation, p.Width, p.Height)
			}
		}
	}
}

func TestPhotoSizes(t *testing.T) {
	for _, c := range []struct{ w, h, wide, high, small int }{{5000, 1000, 2000, 400, 320}, {1000, 2500, 800, 2000, 128}, {300, 200, 300, 200, 300}, {3, 9000, 1, 2000, 1}} {
		p := must[store.NewPhoto](t)(readPhoto(encoded(t, stripes(c.w, c.h), "png")))
		small, _, err := image.DecodeConfig(bytes.NewReader(p.Small))
		ok(t, err)
		whole, kind, err := image.DecodeConfig(bytes.NewReader(p.Bytes))
		ok(t, err)
		if whole.Width != c.wide || whole.Height != c.high || p.Width != c.wide || p.Height != c.high || kind != "jpeg" || p.Type != "image/jpeg" || small.Width != c.small {
			t.Errorf("%d by %d: kept as %d by %d (%s), small %d wide", c.w, c.h, whole.Width, whole.Height, kind, small.Width)
		}
	}
}

// badPhotos are files that are refused, with the words for each.
func badPhotos(t testing.TB) map[string]struct {
	file []byte
	says string
} {
	whole := encoded(t, stripes(400, 300), "jpeg")
	huge := bytes.Clone(whole)
	frame := bytes.Index(huge, []byte{0xff, 0xc0}) // marker, length, precision, height, width
	binary.BigEndian.PutUint16(huge[frame+5:], 30_000)
	binary.BigEndian.PutUint16(huge[frame+7:], 30_000)
	flat := encoded(t, stripes(4, 4), "png")
	binary.BigEndian.PutUint32(flat[16:], 30_000) // IHDR after signature, length and name
	binary.BigEndian.PutUint32(flat[20:], 30_000)
	binary.BigEndian.PutUint32(flat[29:], crc32.ChecksumIEEE(flat[12:29]))
	return map[string]struct {
		file []byte
		says string
	}{
		"cut.jpg":   {whole[:len(whole)/2], "damaged or cut short"},
		"text.jpg":  {[]byte("this is no picture"), "neither a JPEG nor a PNG"},
		"huge.jpg":  {huge, "more than 30 million pixels"},
		"huge.png":  {flat, "more than 30 million pixels"},
		"empty.jpg": {nil, "the file is empty"},
		"new.heic":  {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), "HEIC"},
		"large.jpg": {append(bytes.Clone(whole), make([]byte, largestPhoto)...), "larger than 15 MB"},
		"page.svg":  {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`), "neither a JPEG nor a PNG"},
	}
}

// send posts photographs as a browser does.
func send(t testing.TB, h http.Handler, path string, fields map[string]string, files map[string][]byte) *httptest.ResponseRecorder {
	t.Helper()
	return sendAs(t, h, path, "photo", fields, files)
}

// sendAs posts files as a browser does.
func sendAs(t testing.TB, h http.Handler, path, field string, fields map[string]string, files map[string][]byte) *httptest.ResponseRecorder {
	t.Helper()
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	for name, v := range fields {
		ok(t, m.WriteField(name, v))
	}
	for name, file := range files {
		w := must[io.Writer](t)(m.CreateFormFile(field, name))
		_, err := w.Write(file)
		ok(t, err)
	}
	ok(t, m.Close())
	r := httptest.NewRequest(http.MethodPost, path, &body)
	r.Host = "localhost:8440"
	r.Header.Set("Content-Type", m.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestBadPhotos(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	h, logged := serving(t, b.Book)
	path := fmt.Sprintf("/jobs/%d/bench/1/photos", b.benchJob)
	for name, c := range badPhotos(t) {
		w := send(t, h, path, map[string]string{"uid": "u", "note": "a typed note"}, map[string][]byte{name: c.file})
		check(t, name, w, 422, []string{name + ": ", c.says, `id="f-photo-error"`, `value="a typed note"`, "Nothing was saved"}, nil)
	}
	check(t, "no file", send(t, h, path, map[string]string{"uid": "u", "note": "a typed note"}, nil), 422, []string{"at least one photograph", `value="a typed note"`}, nil)
	good := encoded(t, stripes(40, 40), "jpeg")
	check(t, "a part of another position", send(t, h, path, map[string]string{"note": "a typed note", "part": fmt.Sprint(b.cylinders[1])}, map[string][]byte{"a.jpg": good}), 422, []string{"choose a part from the list", `value="a typed note"`}, nil)
	check(t, "no form of files", post(h, path, formOf("note=x")), 400, nil, nil)
	many := make(map[string]string, mostParts)
	for i := range mostParts {
		many[fmt.Sprint(i)] = "x"
	}
	check(t, "more parts than a send may have", send(t, h, path, many, map[string][]byte{"a.jpg": encoded(t, stripes(40, 40), "jpeg")}), 400, nil, nil)
	if ps := must[[]store.Photo](t)(b.PhotosOfJob(context.Background(), b.benchJob, 0)); len(ps) != 1 {
		t.Fatalf("%d photographs are in the book", len(ps))
	}
	w := send(t, h, path, map[string]string{"uid": "u", "note": "a typed note"}, map[string][]byte{"a.jpg": good, "b.jpg": []byte("none")})
	check(t, "one good, one bad", w, 422, []string{"1 photograph saved, the others not", "b.jpg: "}, nil)
	if ps := must[[]store.Photo](t)(b.PhotosOfJob(context.Background(), b.benchJob, 0)); len(ps) != 2 {
		t.Errorf("%d photographs are in the book, want the good one too", len(ps))
	}
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

func TestPhotos(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	ctx := context.Background()
	h, _ := serving(t, b.Book)
	bench := fmt.Sprintf("/jobs/%d/bench/1", b.benchJob)
	file := withExif(encoded(t, stripes(80, 40), "jpeg"), binary.BigEndian, 6)
	fields := map[string]string{"uid": "u-1", "note": "note <1>", "part": fmt.Sprint(b.cylinders[0])}
	for range 2 { // the same form sent twice
		if w := send(t, h, bench+"/photos", fields, map[string][]byte{"a.jpg": file}); w.Code != 303 || w.Header().Get("Location") != bench+"#photos" {
			t.Fatalf("status %d to %q", w.Code, w.Header().Get("Location"))
		}
	}
	part := fmt.Sprintf("/parts/%d", b.cylinders[0])
	if w := send(t, h, part+"/photos", map[string]string{"uid": "u-2"}, map[string][]byte{"b.png": encoded(t, stripes(20, 20), "png")}); w.Code != 303 || w.Header().Get("Location") != part+"#photos" {
		t.Fatalf("of a part: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	ps := must[[]store.Photo](t)(b.PhotosOfPart(ctx, b.cylinders[0]))
	if len(ps) != 2 || ps[0].Position != 1 || ps[0].Job != b.benchJob || ps[1].Job != 0 {
		t.Fatalf("photographs of the cylinder: %+v", ps)
	}
	w := get(h, fmt.Sprintf("/photos/%d", ps[0].ID))
	for name, want := range map[string]string{"Content-Type": "image/jpeg", "X-Content-Type-Options": "nosniff", "Cache-Control": "private, no-cache"} {
		if got := w.Header().Get(name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if csp := w.Header().Get("Content-Security-Policy"); !strings.Contains(csp, "sandbox") || !strings.Contains(csp, "default-src 'none'") {
		t.Errorf("policy %q", csp)
	}
	if got := corners(t, w.Body.Bytes()); got != "blue red white green" || bytes.Contains(w.Body.Bytes(), []byte("GPS-PLACE")) {
		t.Errorf("it comes back as %s", got)
	}
	for _, page := range []string{bench, part} {
		check(t, page, get(h, page), 200, []string{"note &lt;1&gt;", fmt.Sprintf("/photos/%d/small", ps[0].ID)}, []string{"<1>"})
	}
	strike := fmt.Sprintf("/photos/%d/strike", ps[0].ID)
	check(t, "without a reason", post(h, strike, formOf("reason=")), 422, []string{"say why"}, nil)
	if w := post(h, strike, formOf("reason=shows a person")); w.Code != 303 || w.Header().Get("Location") != bench+"#photos" {
		t.Errorf("struck out: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	check(t, "struck out", get(h, bench), 200, []string{"struck out: shows a person"}, []string{fmt.Sprintf("/photos/%d/small", ps[0].ID)})
}

// TestUploadsAsFiles: no photograph becomes a file. The files of an import wait
// in a folder of their own among the temporary ones, by number and not by the
// name they came with, and are gone when they are in the book (OWASP ASVS 5,
// 5.3.2).
func TestUploadsAsFiles(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	h := s.as(t, addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic}))
	home := t.TempDir()
	temporary := filepath.Join(home, "temporary")
	ok(t, os.Mkdir(temporary, 0o700))
	t.Setenv("TMPDIR", temporary)
	t.Setenv("TMP", temporary) // as Windows calls it
	left := func() (names []string) {
		ok(t, filepath.WalkDir(home, func(path string, e fs.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				names = append(names, strings.TrimPrefix(filepath.ToSlash(path), filepath.ToSlash(temporary)))
			}
			return err
		}))
		return names
	}
	check(t, "a photograph", send(t, h, fmt.Sprintf("/parts/%d/photos", b.cylinders[0]), map[string]string{"uid": "u"}, map[string][]byte{"../up.jpg": encoded(t, stripes(40, 40), "jpeg")}), 303, nil, nil)
	if names := left(); len(names) > 0 {
		t.Errorf("the photograph is in %q", names)
	}
	text := []byte("date,kind,serial,event,part_hours,feature,value,unit\n2024-01-01,pin,N-501,reading,5,pin diameter,1.1248,in\n")
	w := sendAs(t, h, "/import", "files", nil, map[string][]byte{"../../up.csv": text})
	check(t, "a dry run", w, 200, []string{"up.csv"}, nil)
	if names := left(); len(names) != 1 || !regexp.MustCompile(`^/barrelbook-import-[0-9]+/0\.csv$`).MatchString(names[0]) {
		t.Errorf("the import waits in %q", names)
	}
	check(t, "the import", post(h, "/import", formOf("token="+hidden(t, w.Body.String(), "token", 0))), 200, []string{"up.csv"}, nil)
	if names := left(); len(names) > 0 {
		t.Errorf("after the import there is %q", names)
	}
}

// TestPhotosInRecords: the data lists photographs, the paper shows those that
// were not struck out.
func TestPhotosInRecords(t *testing.T) {
	b, s := fill(t), schema(t)
	b.openBench(t)
	ctx := context.Background()
	images := func(rec Record) int {
		return bytes.Count(written(t, b.Book, rec, "pdf"), []byte("/Subtype /Image"))
	}
	record := func() Record { return must[Record](t)(PartRecordOf(ctx, b.Book, b.piston)) }
	rec := record()
	if ps := rec.Parts[0].Photos; len(ps) != 1 || ps[0].Note != "scored skirt" || ps[0].Job != b.benchJob || len(ps[0].SHA256) != 64 {
		t.Errorf("photographs in the record: %+v", ps)
	}
	validates(t, s, written(t, b.Book, rec, "json"))
	if n := images(rec); n != 1 {
		t.Errorf("%d pictures on paper, want 1", n)
	}
	p := must[store.NewPhoto](t)(readPhoto(encoded(t, stripes(20, 40), "jpeg")))
	p.Job, p.Position, p.Day = b.benchJob, 9, "2025-01-02"
	ok(t, b.AddPhotos(ctx, []store.NewPhoto{p}))
	whole := must[Record](t)(EngineRecordOf(ctx, b.Book, b.engine.ID))
	validates(t, s, written(t, b.Book, whole, "json"))
	if n := images(whole); len(whole.Photos) != 1 || whole.Photos[0].Position != 9 || n != 2 {
		t.Errorf("the engine's record has %+v and %d pictures on paper, want 2", whole.Photos, n)
	}
	ok(t, b.VoidPhoto(ctx, b.photo, "blurred"))
	if rec := record(); rec.Parts[0].Photos[0].Struck != "blurred" || images(rec) != 0 {
		t.Errorf("struck out: %+v and %d pictures on paper", rec.Parts[0].Photos, images(rec))
	}
}

func validates(t testing.TB, s *jsonschema.Schema, text []byte) {
	t.Helper()
	if err := s.Validate(must[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(text)))); err != nil {
		t.Error(err)
	}
}

func FuzzReadPhoto(f *testing.F) {
	for _, c := range badPhotos(f) {
		if len(c.file) < 1<<20 {
			f.Add(c.file)
		}
	}
	f.Add(withExif(encoded(f, stripes(8, 4), "jpeg"), binary.LittleEndian, 6))
	f.Fuzz(func(t *testing.T, file []byte) {
		if o := orientation(file); o < 0 || o > 8 {
			t.Errorf("orientation %d", o)
		}
		tiffOrientation(file)
		if len(file) > 1<<16 {
			return
		}
		if p, err := readPhoto(file); err == nil && (p.Width > longestSide || p.Height > longestSide || len(p.Bytes) == 0) {
			t.Errorf("kept as %d by %d", p.Width, p.Height)
		}
	})
}
