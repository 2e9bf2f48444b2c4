package views

import (
	"slices"
	"strconv"
	"strings"
)

// Draft is what stands in a form: the text of each field by its name, and
// what was wrong with it when it was last sent. The zero Draft is an empty
// form. Labels, hints and types belong to the page that draws the form.
type Draft struct {
	Values map[string]string
	Faults []Fault    // in the order in which they should be read
	Stale  []StaleRow // what somebody else saved since the form was drawn; What is the field's name
}

// Fault is what is wrong with one field, in words. Href and Way, where given,
// lead to the way out: "/engines/4/meter/9/correct", "Correct that entry".
// Field is empty for what concerns the whole form.
type Fault struct {
	Field, Message string
	Href, Way      string
}

// Link is a link with its text.
type Link struct {
	Text, Href string
}

// Fact is a short statement in two columns: "Meter", "1,204.5 h". Href may be
// empty.
type Fact struct {
	Label, Value, Href string
}

// Value is the text in a field, "" where it is empty.
func (d Draft) Value(name string) string { return d.Values[name] }

// Or is the text in a field, or the given text where the form has no such
// field yet.
func (d Draft) Or(name, text string) string {
	if v, ok := d.Values[name]; ok {
		return v
	}
	return text
}

// Fault is what is wrong with a field, the zero Fault where nothing is.
func (d Draft) Fault(name string) Fault {
	i := slices.IndexFunc(d.Faults, func(f Fault) bool { return f.Field == name })
	if i < 0 {
		return Fault{}
	}
	return d.Faults[i]
}

// wayText is the text of the link to the way out of a fault.
func (f Fault) wayText() string {
	if f.Way != "" {
		return f.Way
	}
	return "Go there"
}

// fieldID turns a field's name into an element id.
func fieldID(name string) string {
	return "f-" + strings.NewReplacer(" ", "-", ".", "-").Replace(name)
}

// texts makes choices whose text is their value.
func texts(values ...string) []Option {
	os := make([]Option, len(values))
	for i, v := range values {
		os[i] = Option{Value: v, Label: v}
	}
	return os
}

// fill gives a field what stands in it and what is wrong with it.
func (d Draft) fill(f Field) Field {
	f.Value, f.Error = d.Or(f.Name, f.Value), d.Fault(f.Name).Message
	return f
}

// has reports whether the form has something in the field, be it empty text.
func (d Draft) has(name string) bool {
	_, ok := d.Values[name]
	return ok
}

// count says how much is wrong.
func (d Draft) count() string {
	if len(d.Faults) == 1 {
		return "one thing is wrong"
	}
	return strconv.Itoa(len(d.Faults)) + " things are wrong"
}

// describedBy lists the ids of a field's hint and error.
func describedBy(name, hint, fault string) string {
	var ids []string
	if hint != "" {
		ids = append(ids, fieldID(name)+"-hint")
	}
	if fault != "" {
		ids = append(ids, fieldID(name)+"-error")
	}
	return strings.Join(ids, " ")
}

// withBlank puts a choice with an empty value first.
func withBlank(label string, os []Option) []Option {
	return append([]Option{{Label: label}}, os...)
}

// staleFields are the rows of what somebody else saved, each named as people
// name its field.
func (d Draft) staleFields(labels map[string]string) []StaleRow {
	rows := slices.Clone(d.Stale)
	for i, r := range rows {
		if l := labels[r.What]; l != "" {
			rows[i].What = l
		}
	}
	return rows
}
