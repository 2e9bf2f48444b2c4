package server

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
)

// shownField carries, in a form that changes what the book has, the values that
// stood in it when it was drawn.
const shownField = "shown"

// changingForm is a form, not yet sent, that changes what has these values now.
func changingForm(values map[string]string) *form {
	f := blankForm(values)
	f.values[shownField] = valuesText(values)
	return f
}

func valuesText(values map[string]string) string {
	kept := maps.Clone(values)
	delete(kept, shownField)
	text, _ := json.Marshal(kept) // texts always can be
	return string(text)
}

// overtaken says that what a form changes was saved by somebody else since the
// form was drawn; now is what would stand in it.
type overtaken struct{ shown, now map[string]string }

func (overtaken) Error() string { return "somebody else saved this in the meantime" }

// knowing makes a save on a context go ahead only while what the form changes
// is as it was when the form was drawn. A form that does not say how that was
// is saved as it is.
func (f *form) knowing(ctx context.Context, now func(ctx context.Context) (map[string]string, error)) context.Context {
	var shown map[string]string
	if json.Unmarshal([]byte(f.text(shownField)), &shown) != nil {
		return ctx
	}
	return store.Provided(ctx, func(ctx context.Context) error {
		values, err := now(ctx)
		if err != nil {
			return err
		}
		if o := (overtaken{shown, values}); len(o.fields()) > 0 {
			return o
		}
		return nil
	})
}

// fields are those that are not as they were.
func (o overtaken) fields() []string {
	all := maps.Clone(o.shown)
	maps.Copy(all, o.now)
	return slices.DeleteFunc(slices.Sorted(maps.Keys(all)), func(name string) bool { return oneLine(o.shown[name]) == oneLine(o.now[name]) })
}

// oneLine is a text as it is compared: browsers send other line ends.
func oneLine(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n")) }

// overtake takes over what somebody else saved in fields that this form leaves
// as they were, and sets theirs beside what was typed in all others. Sent again,
// it saves over theirs.
func (f *form) overtake(o overtaken) {
	for _, name := range o.fields() {
		theirs, yours := o.now[name], oneLine(f.values[name])
		row := views.StaleRow{What: name, Theirs: theirs, Yours: yours}
		if yours == oneLine(o.shown[name]) {
			f.values[name], row.Taken = theirs, true
		}
		f.stale = append(f.stale, row)
	}
	f.values[shownField] = valuesText(o.now)
}
