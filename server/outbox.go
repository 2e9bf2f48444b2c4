package server

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/views"
)

// outboxFormat is the newest way of writing a record that the server knows;
// every older one is read too.
const outboxFormat = 1

// mostRecords is how many records one request may bring.
const mostRecords = 50

// delivery is a record of a tablet's outbox: a form that was filled in out of
// reach.
type delivery struct {
	Format int               `json:"format"`
	UID    string            `json:"uid"`
	Form   string            `json:"form"` // the address it is sent to
	Fields map[string]string `json:"fields"`
	Sizes  map[string]string `json:"sizes"` // what the page read in each field, in base units
	Book   string            `json:"book"`
	Page   string            `json:"page"`   // the build of the page it was filled in on
	Device string            `json:"device"` // what the tablet is called
	Time   string            `json:"time"`   // when it was filled in, by the tablet's clock
	Person string            `json:"person"` // for whom the page was made that it was filled in on, "" where that is not told
	skew   *int
	err    error // how the form's handler answered
}

// UnmarshalJSON reads a record as far as it can be read. One with a member of
// another kind is as one of an unknown format, so that it is refused alone.
func (d *delivery) UnmarshalJSON(text []byte) error {
	type plain delivery
	err := json.Unmarshal(text, (*plain)(d))
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		d.Format, err = 0, nil
	}
	return err
}

// outboxMessage is what a tablet sends: records in their order.
type outboxMessage struct {
	Sent    string     `json:"sent"` // by the tablet's clock
	Records deliveries `json:"records"`
}

type deliveries []delivery

// errTooMany ends the reading of a message before it fills the memory.
var errTooMany = fmt.Errorf("more than %d sheets at once", mostRecords)

// UnmarshalJSON reads at most mostRecords; errTooMany where there are more.
func (ds *deliveries) UnmarshalJSON(text []byte) error {
	in := json.NewDecoder(bytes.NewReader(text))
	if open, err := in.Token(); err != nil || open != json.Delim('[') {
		return err // no list has no records
	}
	for in.More() {
		if len(*ds) == mostRecords {
			return errTooMany
		}
		var d delivery
		if err := in.Decode(&d); err != nil {
			return err
		}
		*ds = append(*ds, d)
	}
	return nil
}

// outboxAnswer says what became of each record, in their order. Records that
// are not in it were not looked at, and wait on.
type outboxAnswer struct {
	Time    string         `json:"time"` // by the clock of this program
	Skew    *int           `json:"skew,omitempty"`
	Build   string         `json:"build"`
	Answers []recordAnswer `json:"answers"`
	Stopped string         `json:"stopped,omitempty"` // why the rest was not looked at
}

// recordAnswer is where a record was kept, or why it was refused.
type recordAnswer struct {
	UID    string        `json:"uid"`
	Kept   string        `json:"kept,omitempty"`
	Faults []outboxFault `json:"faults,omitempty"`
}

type outboxFault struct {
	Field   string `json:"field"`
	Message string `json:"message"`
	Href    string `json:"href,omitempty"`
	Way     string `json:"way,omitempty"`
}

// outbox takes in what waited on a tablet. Each record goes the way that its
// form goes when it is sent from the page.
func (s *Server) outbox(w http.ResponseWriter, r *http.Request) error {
	var m outboxMessage
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return s.answerJSON(w, http.StatusUnsupportedMediaType, outboxAnswer{Stopped: "an outbox is sent as JSON"})
	}
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return s.answerJSON(w, http.StatusRequestEntityTooLarge, outboxAnswer{Stopped: "what was sent is larger than the program takes"})
		}
		if errors.Is(err, errTooMany) {
			return s.answerJSON(w, http.StatusRequestEntityTooLarge, outboxAnswer{Stopped: err.Error()})
		}
		return s.answerJSON(w, http.StatusBadRequest, outboxAnswer{Stopped: "what was sent did not come whole"})
	}
	a := outboxAnswer{Time: s.book.Now(), Skew: skew(m.Sent, s.book.Now()), Build: static.Build(), Answers: []recordAnswer{}}
	if err := s.deliverAll(r, m.Records, &a); err != nil {
		if r.Context().Err() != nil {
			return err // the tablet went away; what is not answered waits there
		}
		s.log.Error("take in an outbox", "error", err)
		a.Stopped = "Something went wrong inside the program; it is in its log. The sheet waits on this device."
		if store.IsFull(err) {
			a.Stopped = "The laptop's disk is full. The sheet waits on this device until there is space."
		}
		return s.answerJSON(w, http.StatusInternalServerError, a)
	}
	return s.answerJSON(w, http.StatusOK, a)
}

// deliverAll takes in records until one meets an error that is not its own.
func (s *Server) deliverAll(r *http.Request, records []delivery, a *outboxAnswer) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	for i := range records {
		d := &records[i]
		d.skew = a.Skew
		one, err := s.deliver(r, d, set.Book)
		if err != nil {
			return fmt.Errorf("take in %s: %w", d.Form, err)
		}
		a.Answers = append(a.Answers, one)
	}
	return nil
}

// skew is how many seconds the sender's clock is ahead; nil where it told no
// time that can be read.
func skew(sent, now string) *int {
	theirs, err := time.Parse(time.RFC3339, sent)
	ours, err2 := time.Parse(time.RFC3339, now)
	if err != nil || err2 != nil {
		return nil
	}
	n := int(theirs.Sub(ours).Round(time.Second) / time.Second)
	return &n
}

// answerJSON answers with data, not to be kept by the browser.
func (s *Server) answerJSON(w http.ResponseWriter, status int, data any) error {
	text, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("write answer: %w", err)
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if _, err := w.Write(text); err != nil {
		s.log.Debug("send answer", "error", err) // the reader went away
	}
	return nil
}

// deliver has one record saved. An error is the program's own: the record may
// come again.
func (s *Server) deliver(r *http.Request, d *delivery, book string) (recordAnswer, error) {
	a := recordAnswer{UID: d.UID}
	if why := d.strange(book); why != "" {
		a.Faults = []outboxFault{{Message: why}}
		return a, nil
	}
	to, err := s.replay(r, d)
	var faults refusal
	var bad store.Invalid
	switch {
	case err == nil:
		a.Kept = to
		return a, nil
	case errors.As(err, &faults):
		for _, f := range faults {
			a.Faults = append(a.Faults, outboxFault{Field: f.Field, Message: f.Message, Href: f.Href, Way: f.Way})
		}
	case errors.As(err, &bad):
		for _, f := range bad {
			a.Faults = append(a.Faults, outboxFault{Field: f.Field, Message: f.Message, Href: f.Href, Way: "Open the one in the book"})
		}
	case errors.Is(err, store.ErrNotFound), errors.Is(err, errBadAddress):
		a.Faults = []outboxFault{{Message: "what this sheet was filled in for is not in the book: " + d.Form}}
	default:
		return a, err
	}
	return a, nil
}

// strange says in words why a record cannot be understood; "" where it can.
func (d *delivery) strange(book string) string {
	switch _, err := uuid.Parse(d.UID); {
	case err != nil:
		return "this sheet has no name of its own; open it and save it again"
	case d.Format < 1 || d.Format > outboxFormat:
		return "this sheet was filled in on a page of another version of the program, which this one cannot read; open it and save it again"
	case d.Book != book:
		return "this sheet was filled in for another book than the one served here"
	case textFault(d.Device+d.Page+d.Time) != "":
		return "the name of this device " + strayCharacter
	case !strings.HasPrefix(d.Form, "/") || strings.ContainsAny(d.Form, "?#"):
		return "this sheet does not say what it was filled in for"
	}
	return ""
}

type deliveryKey struct{}

// delivered is the record that a request brings; nil where it is a form sent
// from its page.
func delivered(r *http.Request) *delivery {
	d, _ := r.Context().Value(deliveryKey{}).(*delivery)
	return d
}

// replay sends a record's form to its handler, and returns where that leads.
func (s *Server) replay(r *http.Request, d *delivery) (to string, err error) {
	values := url.Values{}
	for name, text := range d.Fields {
		values.Set(name, text)
	}
	values.Set("uid", d.UID)
	form, err := http.NewRequestWithContext(context.WithValue(r.Context(), deliveryKey{}, d), http.MethodPost, d.Form, strings.NewReader(values.Encode()))
	if err != nil {
		return "", errBadAddress
	}
	form.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	d.err = errBadAddress // where no form has the address
	w := &quiet{header: http.Header{}}
	s.replays.ServeHTTP(w, form)
	return w.header.Get("Location"), d.err
}

// newReplays leads to the handlers of the forms that can wait, and keeps what
// they return.
func (s *Server) newReplays() http.Handler {
	routes := chi.NewRouter()
	for path, do := range s.onceForms() {
		routes.Post(path, func(w http.ResponseWriter, r *http.Request) { delivered(r).err = s.once(do)(w, r) })
	}
	return routes
}

// refusal is what is wrong with a form that nobody looks at now.
type refusal []views.Fault

// Error joins the messages.
func (f refusal) Error() string {
	var parts []string
	for _, x := range f {
		parts = append(parts, x.Field+": "+x.Message)
	}
	return strings.Join(parts, "; ")
}

// refuse returns the faults of a form that came from an outbox; nil where
// there are none, or where a page can show them.
func (f *form) refuse(r *http.Request) error {
	if delivered(r) == nil || f.ok() {
		return nil
	}
	return refusal(f.faults)
}

// quiet keeps an answer's header and drops its body.
type quiet struct{ header http.Header }

func (q *quiet) Header() http.Header         { return q.header }
func (q *quiet) Write(b []byte) (int, error) { return len(b), nil }
func (q *quiet) WriteHeader(int)             {}
