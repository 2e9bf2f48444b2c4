package server

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// form reads the fields of a request. What cannot be read becomes a fault at
// its field, and what was typed stays in the draft.
type form struct {
	values map[string]string
	asked  map[string]int    // fields that were looked at, of a form that was sent, with their order
	sizes  map[string]string // what the page that waited on a tablet read in each field
	faults []views.Fault
	stale  []views.StaleRow // what somebody else saved since the form was drawn
}

// readForm reads a form that was sent. A text with a character that the book
// does not take is a fault at its field, and stays there without it.
func readForm(r *http.Request) (*form, error) {
	if err := r.ParseForm(); err != nil {
		return nil, fmt.Errorf("%w: %w", errBadForm, err)
	}
	f := &form{values: make(map[string]string, len(r.PostForm)), asked: map[string]int{}}
	if d := delivered(r); d != nil {
		f.sizes = d.Sizes
	}
	for name, v := range r.PostForm {
		f.values[name] = v[0]
		if textFault(v[0]) != "" {
			f.values[name] = cleaned(v[0])
			f.fault(name, "what was typed %s", strayCharacter)
		}
	}
	return f, nil
}

// blankForm is a form not yet sent, with what stands in it at first.
func blankForm(values map[string]string) *form { return &form{values: values} }

// newUID marks a form, so that sending it twice saves it once.
func newUID() string { return uuid.Must(uuid.NewV7()).String() }

// draft is the form as it is drawn again, with its faults in the order in which
// it was read, which is that of the page.
func (f *form) draft() views.Draft {
	slices.SortStableFunc(f.faults, func(a, b views.Fault) int { return cmp.Compare(f.asked[a.Field], f.asked[b.Field]) })
	return views.Draft{Values: f.values, Faults: f.faults, Stale: f.stale}
}

func (f *form) ok() bool { return len(f.faults) == 0 }

func (f *form) fault(field, format string, args ...any) {
	f.faults = append(f.faults, views.Fault{Field: field, Message: fmt.Sprintf(format, args...)})
}

// has reports whether a fault was found at one of the fields.
func (f *form) has(fields ...string) bool {
	return slices.ContainsFunc(f.faults, func(x views.Fault) bool { return slices.Contains(fields, x.Field) })
}

// refused takes over what the store found wrong, save at fields that could not
// be read in the first place, and what somebody else saved in the meantime; fields maps names of the store's fields to those
// of the form where they differ. Any other error comes back.
func (f *form) refused(err error, fields map[string]string) error {
	var bad store.Invalid
	var late overtaken
	if errors.As(err, &late) {
		f.overtake(late)
		return nil
	}
	if store.IsFull(err) {
		f.fault("", "the disk is full: make space, then save again. What was typed is still here")
		return nil
	}
	if !errors.As(err, &bad) {
		return err
	}
	unread := slices.Clone(f.faults)
	for _, b := range bad {
		name := b.Field
		if n, ok := fields[name]; ok {
			name = n
		}
		if slices.ContainsFunc(unread, func(x views.Fault) bool { return x.Field == name }) {
			continue
		}
		fault := views.Fault{Field: name, Message: b.Message, Href: b.Href}
		if b.Href != "" {
			fault.Way = wayTo(b.Href)
		}
		f.faults = append(f.faults, fault)
	}
	return nil
}

// wayTo is the text of the way out of a fault of the store.
func wayTo(href string) string {
	if strings.HasPrefix(href, "/jobs/") {
		return "Open the job"
	}
	return "Correct that entry"
}

// refusedAt takes over what the store found wrong with one thing of many: its
// faults stand at the field that names it.
func (f *form) refusedAt(field string, err error) {
	var bad store.Invalid
	errors.As(err, &bad)
	for _, b := range bad {
		f.fault(field, "%s", b.Message)
	}
}

func (f *form) text(name string) string {
	if f.asked != nil && f.asked[name] == 0 {
		f.asked[name] = len(f.asked) + 1
	}
	return strings.TrimSpace(f.values[name])
}

// left lists the fields of these kinds that were filled in and that nothing
// asks for: the page was older than what it is sent to.
func (f *form) left(kinds ...string) []string {
	var names []string
	for _, name := range slices.Sorted(maps.Keys(f.values)) {
		kind, _, _ := strings.Cut(name, "-")
		if slices.Contains(kinds, kind) && strings.TrimSpace(f.values[name]) != "" && f.asked[name] == 0 {
			names = append(names, name)
		}
	}
	return names
}

func (f *form) needed(name, message string) string {
	t := f.text(name)
	if t == "" {
		f.fault(name, "%s", message)
	}
	return t
}

func (f *form) day(name string) wear.Day {
	t := f.text(name)
	if t == "" {
		f.fault(name, "give the date")
		return ""
	}
	d, err := wear.ParseDay(t)
	if err != nil {
		f.fault(name, "%s", err)
	}
	return d
}

// happenedOn reads the day of something that has happened.
func (s *Server) happenedOn(f *form) (wear.Day, error) {
	day := f.day("day")
	return day, f.refused(s.book.Happened(day), nil)
}

func (f *form) hours(name string) wear.Hours {
	t := f.text(name)
	if t == "" {
		f.fault(name, "give the hours that the meter shows")
		return 0
	}
	return f.someHours(name, t)
}

func (f *form) someHours(name, t string) wear.Hours {
	h, err := wear.ParseHours(plainHours(t))
	if err != nil {
		f.fault(name, "%s: write hours such as 1204.5", err)
	}
	return h
}

// groupedHours are hours with commas between their thousands: 1,204.5.
var groupedHours = regexp.MustCompile(`^[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]*)?$`)

// plainHours takes the commas between thousands out of hours. Any other comma
// stays and is refused: who writes 1204,5 does not mean 12045.
func plainHours(t string) string {
	if groupedHours.MatchString(t) {
		return strings.ReplaceAll(t, ",", "")
	}
	return t
}

// optionalHours is nil where the field is empty.
func (f *form) optionalHours(name string) *wear.Hours {
	t := f.text(name)
	if t == "" {
		return nil
	}
	h := f.someHours(name, t)
	return &h
}

// number reads a whole number between low and high; 0 where it is empty and
// not needed.
func (f *form) number(name string, low, high int, need bool) int {
	t := f.text(name)
	if t == "" && !need {
		return 0
	}
	n, err := strconv.Atoi(t)
	if err != nil || n < low || n > high {
		f.fault(name, "give a whole number from %d to %d", low, high)
		return 0
	}
	return n
}

func (f *form) fraction(name string) float64 {
	x, ok := decimal(f.text(name))
	if !ok {
		f.fault(name, "%q is not a number", f.text(name))
		return 0
	}
	return x
}

var plainDecimal = regexp.MustCompile(`^[+-]?(\d{1,12}(\.\d{0,12})?|\.\d{1,12})$`)

// decimal reads a plain decimal number, with any minus sign: no exponent, no
// other base, nothing without end.
func decimal(text string) (float64, bool) {
	text = strings.Replace(text, "−", "-", 1)
	if !plainDecimal.MatchString(text) {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil
}

// value reads a quantity; nil where it is empty.
func (f *form) value(name string, u wear.Unit) *wear.Value {
	t := f.text(name)
	if t == "" {
		return nil
	}
	v, err := wear.ParseValue(t, u)
	if err != nil {
		f.fault(name, "%s", err)
		return nil
	}
	return &v
}

// ref reads the id of something chosen from a list; 0 where nothing was.
func (f *form) ref(name string) int64 {
	n, err := strconv.ParseInt(f.text(name), 10, 64)
	if f.text(name) != "" && (err != nil || n < 0) {
		f.fault(name, "choose one from the list")
		return 0
	}
	return n
}

// choices makes options whose text is their value.
func choices(values ...string) []views.Option {
	os := make([]views.Option, len(values))
	for i, v := range values {
		os[i] = views.Option{Value: v, Label: v}
	}
	return os
}

func kindChoices() []views.Option {
	os := make([]views.Option, len(wear.Kinds))
	for i, k := range wear.Kinds {
		os[i] = views.Option{Value: string(k), Label: string(k)}
	}
	return os
}

// status is 422 for a form with faults, 409 for one that somebody else was
// faster than, else 200.
func (f *form) status() int {
	switch {
	case !f.ok():
		return http.StatusUnprocessableEntity
	case len(f.stale) > 0:
		return http.StatusConflict
	}
	return http.StatusOK
}
