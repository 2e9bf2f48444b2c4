package server

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"maps"
	"net/http"
	"slices"
	"strings"
	"unicode/utf8"

	"barrelbook/store"
)

// onceForms are the forms that a tablet can fill in out of reach and deliver
// later. Each is saved in one transaction, which notes the address of what it
// saved, and carries a name of its own in the field uid.
func (s *Server) onceForms() map[string]handler {
	return map[string]handler{
		"/measure/engine/{id}/{position}": s.measurePosition,
		"/measure/part/{id}":              s.measurePart,
		"/engines/{id}/leak/new":          s.newLeakTest,
	}
}

// once saves a form once: sent again it leads where the first time did, and
// something else under the same name is refused.
func (s *Server) once(do handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if r.Method != http.MethodPost {
			return do(w, r)
		}
		f, err := readForm(r)
		if err != nil {
			return err
		}
		sent := delivered(r).receipt(r.URL.Path, f.values)
		if sent.UID == "" {
			return do(w, r)
		}
		kept, err := s.book.Receipt(r.Context(), sent.UID)
		switch {
		case errors.Is(err, store.ErrNotFound):
			return do(w, r.WithContext(store.Receiving(r.Context(), sent)))
		case err != nil:
			return err
		}
		if err := kept.Same(sent); err != nil {
			return err
		}
		return s.redirect(w, r, kept.Answer, "It was in the book already, and is there once.")
	}
}

// receipt is the note that the book will keep of a form.
func (d *delivery) receipt(form string, values map[string]string) store.Receipt {
	sum := sha256.New()
	for _, name := range append([]string{form}, slices.Sorted(maps.Keys(values))...) {
		// a browser sends line ends in one way, a script in the other
		sum.Write([]byte(name + "\x00" + strings.ReplaceAll(values[name], "\r\n", "\n") + "\x00"))
	}
	r := store.Receipt{UID: values["uid"], Form: form, Digest: hex.EncodeToString(sum.Sum(nil))}
	if d != nil {
		r.Device, r.DeviceTime, r.Skew, r.Page, r.TypedBy = d.Device, d.Time, d.skew, d.Page, d.typedBy()
	}
	return r
}

// typedBy is who a record says has entered it: what a tablet says, and no proof.
// What cannot be a name is left out, for a sheet is not lost over it.
func (d *delivery) typedBy() string {
	if textFault(d.Person) != "" || utf8.RuneCountInString(d.Person) > store.MostName {
		return ""
	}
	return d.Person
}
