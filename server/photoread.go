package server

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	_ "image/png" // so that image.Decode reads it
	"net/http"
	"sync"

	"golang.org/x/image/draw"

	"barrelbook/store"
)

// Bounds of a photograph, and what is kept of it.
const (
	largestPhoto  = 15 << 20  // bytes of one file
	largestPhotos = 200 << 20 // bytes of one send
	mostParts     = 1000      // files and fields of one send, as mime/multipart has it
	mostPixels    = 30_000_000
	longestSide   = 2000 // pixels kept
	smallSide     = 320  // pixels of the small picture
	photoQuality  = 85   // of the JPEG kept
)

// What a file that was sent as a photograph can be refused for.
var (
	errPhotoEmpty = errors.New("the file is empty")
	errPhotoLarge = fmt.Errorf("the file is larger than %d MB", largestPhoto>>20)
	errPhotoHEIC  = errors.New("it is a HEIC picture, which this program cannot read: set the camera to “most compatible” (JPEG), or send a JPEG of it")
	errPhotoKind  = errors.New("it is neither a JPEG nor a PNG picture")
	errPhotoBomb  = fmt.Errorf("it has more than %d million pixels: set the camera to a smaller picture", mostPixels/1_000_000)
	errPhotoCut   = errors.New("the picture is damaged or cut short")
)

// onePhoto lets one photograph at a time be decoded, for each takes some
// hundred MB of memory at worst.
var onePhoto sync.Mutex

// readPhoto turns a file from a camera into what the book keeps: a JPEG of at
// most 2000 pixels a side, the right way up, and a small one. Both are encoded
// anew from the pixels alone, so that nothing else of the file is left.
func readPhoto(file []byte) (store.NewPhoto, error) {
	var p store.NewPhoto
	if err := checkPhoto(file); err != nil {
		return p, err
	}
	onePhoto.Lock()
	defer onePhoto.Unlock()
	img, _, err := image.Decode(bytes.NewReader(file))
	if err != nil {
		return p, errPhotoCut
	}
	whole := upright(scaled(img, longestSide), orientation(file))
	p.Type, p.Width, p.Height = "image/jpeg", whole.Bounds().Dx(), whole.Bounds().Dy()
	if p.Bytes, err = encodePhoto(whole); err != nil {
		return p, err
	}
	p.Small, err = encodePhoto(scaled(whole, smallSide))
	return p, err
}

// checkPhoto looks at a file before any of its pixels are read.
func checkPhoto(file []byte) error {
	switch kind := http.DetectContentType(file); {
	case len(file) == 0:
		return errPhotoEmpty
	case len(file) > largestPhoto:
		return errPhotoLarge
	case isHEIC(file):
		return errPhotoHEIC
	case kind != "image/jpeg" && kind != "image/png":
		return errPhotoKind
	}
	c, _, err := image.DecodeConfig(bytes.NewReader(file))
	switch {
	case err != nil || c.Width < 1 || c.Height < 1:
		return errPhotoCut
	case c.Width > mostPixels/c.Height:
		return errPhotoBomb
	}
	return nil
}

// isHEIC knows a HEIF file by its brand: ISO/IEC 23008-12, 10.2.
func isHEIC(file []byte) bool {
	if len(file) < 12 || string(file[4:8]) != "ftyp" {
		return false
	}
	switch string(file[8:12]) {
	case "heic", "heix", "hevc", "hevx", "heim", "heis", "mif1", "msf1":
		return true
	}
	return false
}

// scaled draws a picture on white, no side longer than most pixels. It is
// halved as long as it is twice as long, which averages four pixels each time.
func scaled(img image.Image, most int) *image.RGBA {
	for {
		w, h := img.Bounds().Dx(), img.Bounds().Dy()
		long := max(w, h)
		if long < 2*most {
			short := min(long, most)
			return resized(img, (w*short+long/2)/long, (h*short+long/2)/long)
		}
		img = resized(img, w/2, h/2)
	}
}

func resized(img image.Image, w, h int) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, max(1, w), max(1, h)))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(out, out.Bounds(), img, img.Bounds(), draw.Over, nil)
	return out
}

// upright turns and mirrors a picture as its Exif orientation says. Source:
// CIPA DC-008 (Exif 2.32), 4.6.4, tag 274.
func upright(img *image.RGBA, orientation int) *image.RGBA {
	right, low := img.Bounds().Dx()-1, img.Bounds().Dy()-1
	var from func(x, y int) (int, int) // where the pixel of a place comes from
	switch orientation {
	case 2:
		from = func(x, y int) (int, int) { return right - x, y }
	case 3:
		from = func(x, y int) (int, int) { return right - x, low - y }
	case 4:
		from = func(x, y int) (int, int) { return x, low - y }
	case 5:
		from = func(x, y int) (int, int) { return y, x }
	case 6:
		from = func(x, y int) (int, int) { return y, low - x }
	case 7:
		from = func(x, y int) (int, int) { return right - y, low - x }
	case 8:
		from = func(x, y int) (int, int) { return right - y, x }
	default:
		return img
	}
	if orientation > 4 {
		return turned(img, low+1, right+1, from)
	}
	return turned(img, right+1, low+1, from)
}

func turned(img *image.RGBA, w, h int, from func(x, y int) (int, int)) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			sx, sy := from(x, y)
			out.SetRGBA(x, y, img.RGBAAt(sx, sy))
		}
	}
	return out
}

func encodePhoto(img image.Image) ([]byte, error) {
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: photoQuality}); err != nil {
		return nil, fmt.Errorf("encode photograph: %w", err)
	}
	return buf.Bytes(), nil
}

// orientation is what the Exif segment of a JPEG says of how the camera was
// held, 1 to 8; 0 where it does not say. Source: CIPA DC-008 (Exif 2.32), 4.5
// and 4.7.2.
func orientation(file []byte) int {
	for at := 2; at+4 <= len(file) && file[at] == 0xff; {
		marker, size := file[at+1], int(binary.BigEndian.Uint16(file[at+2:]))
		if marker == 0xda || size < 2 || at+2+size > len(file) {
			return 0
		}
		segment := file[at+4 : at+2+size]
		if marker == 0xe1 && bytes.HasPrefix(segment, []byte("Exif\x00\x00")) {
			return tiffOrientation(segment[6:])
		}
		at += 2 + size
	}
	return 0
}

// tiffOrientation finds tag 274 in the first directory of a TIFF header.
func tiffOrientation(t []byte) int {
	if len(t) < 8 {
		return 0
	}
	var order binary.ByteOrder = binary.BigEndian
	if t[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(t[4:]))
	if at+2 > int64(len(t)) {
		return 0
	}
	for n := int64(order.Uint16(t[at:])); n > 0; n-- {
		e := at + 2 + (n-1)*12
		if e+12 > int64(len(t)) || order.Uint16(t[e:]) != 274 {
			continue
		}
		if v := int(order.Uint16(t[e+8:])); v >= 1 && v <= 8 {
			return v
		}
	}
	return 0
}
