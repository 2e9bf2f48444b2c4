package server

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// photo sends a photograph, or the small picture of it. Its bytes never
// change; as it may show what concerns only this shop, no shared cache keeps
// it, and it is shown as a picture whatever it may pretend to be.
func (s *Server) photo(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	p, err := s.book.Photo(r.Context(), n)
	if err != nil {
		return err
	}
	h, tag := w.Header(), fmt.Sprintf("%q", r.URL.Path) // its bytes never change
	h.Set("ETag", tag)
	h.Set("Cache-Control", "private, no-cache") // asked for each time, so that rights count each time
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	bytes, err := s.book.PhotoBytes(r.Context(), n, strings.HasSuffix(r.URL.Path, "/small"))
	if err != nil {
		return err
	}
	h.Set("Content-Type", p.Type)
	h.Set("Content-Security-Policy", "default-src 'none'; sandbox; frame-ancestors 'none'")
	h.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", fmt.Sprintf("photo-%d.%s", p.ID, strings.TrimPrefix(p.Type, "image/"))))
	if _, err := w.Write(bytes); err != nil {
		s.log.Debug("send photograph", "error", err) // the reader went away
	}
	return nil
}

// partPhotos shows a part's photographs and adds some.
func (s *Server) partPhotos(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	back := href("/parts/", p.ID)
	page := views.PhotosPage{Page: s.page(r, "Photographs of "+partName(p.Kind, p.Serial), views.NavParts), Title: "Photographs of " + string(p.Kind) + " " + p.Serial, Back: views.Link{Text: "Back to the part", Href: back}}
	return s.photoPage(w, r, page, store.Photo{Part: p.ID}, nil, back+"/photos", back+"#photos")
}

// photoPage draws photographs alone, or saves those that were sent: of is what
// they are of, unless the form names one of the parts.
func (s *Server) photoPage(w http.ResponseWriter, r *http.Request, page views.PhotosPage, of store.Photo, parts []views.Option, action, back string) error {
	f := blankForm(map[string]string{"uid": newUID()})
	if r.Method == http.MethodPost {
		var sent []store.NewPhoto
		var err error
		if f, sent, err = readPhotoForm(r); err != nil {
			return err
		}
		f.photoOf(sent, of, parts, s.book.Today())
		saved := 0
		if len(sent) > 0 && !f.has("part") {
			err := s.book.AddPhotos(r.Context(), sent)
			if err == nil {
				saved = len(sent)
			}
			if err := f.refused(err, map[string]string{"job": "photo", "position": "photo"}); err != nil {
				return err
			}
		}
		if f.ok() {
			return s.redirect(w, r, back, counted(saved, "photograph")+" saved.")
		}
		if saved > 0 {
			page.Kept = counted(saved, "photograph") + " saved, the others not"
			s.saved()
		}
		f.values["uid"] = newUID()
	}
	var err error
	if page.Photos, err = s.photosOf(r, of); err != nil {
		return err
	}
	page.Photos.Form = &views.PhotoForm{Action: action, Draft: f.draft(), Parts: parts, Most: mostPhotoText}
	return s.draw(w, r, f.status(), views.PhotosOnlyPage(page))
}

var mostPhotoText = fmt.Sprintf("%d MB", largestPhoto>>20)

// photosOf reads the photographs of a part, else of a position in a job.
func (s *Server) photosOf(r *http.Request, of store.Photo) (views.Photos, error) {
	var ps []store.Photo
	var err error
	if of.Job != 0 {
		ps, err = s.book.PhotosOfJob(r.Context(), of.Job, of.Position)
	} else {
		ps, err = s.book.PhotosOfPart(r.Context(), of.Part)
	}
	var v views.Photos
	for _, p := range ps {
		v.Shots = append(v.Shots, photoShot(p))
	}
	return v, err
}

func photoShot(p store.Photo) views.PhotoShot {
	here := href("/photos/", p.ID)
	v := views.PhotoShot{Href: here, Small: here + "/small", Alt: "Photograph " + strconv.FormatInt(p.ID, 10), Note: p.Note, About: string(p.Day), Void: p.Void}
	if p.Note != "" {
		v.Alt += ": " + p.Note
	}
	if p.Who != "" {
		v.About += ", " + p.Who
	}
	if p.Serial != "" {
		v.About = string(p.Kind) + " " + p.Serial + ", " + v.About
	}
	if p.Void == "" {
		v.VoidHref = here + "/strike"
	}
	return v
}

// photoOf says of each photograph that was sent what it is of and what was
// typed with it.
func (f *form) photoOf(sent []store.NewPhoto, of store.Photo, parts []views.Option, day wear.Day) {
	if f.text("part") != "" {
		of.Part = f.ref("part")
		known := slices.ContainsFunc(parts, func(o views.Option) bool { return o.Value == f.text("part") })
		if !known && !f.has("part") {
			f.fault("part", "choose a part from the list")
		}
	}
	for i := range sent {
		p := &sent[i]
		p.Job, p.Position, p.Part, p.Note, p.Who = of.Job, of.Position, of.Part, f.text("note"), f.text("who")
		p.Day = day
	}
}

// readPhotoForm reads a form with photographs as it comes in, a file at a
// time. Each file that cannot be kept becomes a fault at its field; the others
// come back.
func readPhotoForm(r *http.Request) (*form, []store.NewPhoto, error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", errBadForm, err)
	}
	f := blankForm(map[string]string{})
	var sent []store.NewPhoto
	for n := 1; ; n++ {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, nil, unreadable(err)
		}
		if n > mostParts {
			return nil, nil, fmt.Errorf("%w: it has more than %d parts", errBadForm, mostParts)
		}
		name := part.FormName()
		if name != "camera" && name != "photo" {
			text, err := io.ReadAll(io.LimitReader(part, 1<<16))
			if err != nil {
				return nil, nil, unreadable(err)
			}
			f.values[name] = string(text)
			continue
		}
		if part.FileName() == "" {
			continue // none was chosen in this field
		}
		p, err := readPhotoPart(part, f.text("uid"))
		if err != nil && !f.photoFault(name, part.FileName(), err) {
			return nil, nil, unreadable(err)
		} else if err == nil {
			sent = append(sent, p)
		}
	}
	if len(sent) == 0 && f.ok() {
		f.fault("camera", "take or choose at least one photograph")
	}
	return f, sent, nil
}

// unreadable keeps apart a body that is too large from one that cannot be read.
func unreadable(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return err
	}
	return fmt.Errorf("%w: %w", errBadForm, err)
}

// photoFault marks a file that was refused; it reports whether err is such.
func (f *form) photoFault(field, name string, err error) bool {
	for _, known := range []error{errPhotoEmpty, errPhotoLarge, errPhotoHEIC, errPhotoKind, errPhotoBomb, errPhotoCut} {
		if errors.Is(err, known) {
			f.fault(field, "%s: %s", name, err)
			return true
		}
	}
	return false
}

// readPhotoPart reads one file. Its UID follows from the form's and from its
// bytes: the same file of the same form is kept once.
func readPhotoPart(part *multipart.Part, uid string) (store.NewPhoto, error) {
	file, err := io.ReadAll(io.LimitReader(part, largestPhoto+1))
	if err != nil {
		return store.NewPhoto{}, fmt.Errorf("read photograph: %w", err)
	}
	p, err := readPhoto(file)
	if hash := sha256.Sum256(file); uid != "" {
		p.UID = uid + "-" + hex.EncodeToString(hash[:8])
	}
	return p, err
}

// strikePhoto strikes a photograph out with a reason.
func (s *Server) strikePhoto(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	p, err := s.book.Photo(r.Context(), n)
	if err != nil {
		return err
	}
	back := href("/parts/", p.Part)
	if p.Job != 0 {
		back = href("/jobs/", p.Job, "/bench/", p.Position)
	}
	f := blankForm(nil)
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		err := s.book.VoidPhoto(r.Context(), n, f.text("reason"))
		if err == nil {
			return s.redirect(w, r, back+"#photos", "The photograph was struck out; it stays in the book.")
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	shot := photoShot(p)
	return s.draw(w, r, f.status(), views.ReasonPage(views.ReasonForm{Page: s.page(r, "Strike out a photograph", views.NavParts), Action: href("/photos/", n, "/strike"), Draft: f.draft(),
		Heading: "Strike out photograph " + strconv.FormatInt(n, 10), Explain: "It stays in the book with your reason, and is no longer shown with the others.",
		Facts: []views.Fact{{Label: "Of", Value: shot.About}, {Label: "Note", Value: p.Note}, {Label: "Picture", Value: "look at it", Href: shot.Href}},
		Back:  views.Link{Text: "Leave it", Href: back}, Reasons: []string{"wrong part", "wrong position", "blurred", "shows a person"}, Button: "Strike it out"}))
}
