package views

import "github.com/a-h/templ"

// Field is one labelled field of a form.
type Field struct {
	Name      string // sent with the form
	Label     string
	Aside     string   // said after the label to those who hear the page: what the field is about
	Hint      string   // stands under the field, in small print
	Value     string   // what stands in the field; a checkbox sends yes, and is ticked where this is not empty
	Error     string   // what is wrong with it, in words; "" for nothing
	Type      string   // text when empty; date, search, file, password, checkbox, select, textarea, list (text with Options offered)
	InputMode string   // the keyboard of a phone: decimal, numeric
	Unit      string   // written after the field: h, in
	Required  bool     // said beside the label; the server names what is missing beside all else that is wrong
	Multiple  bool     // of a file: several
	Accept    string   // of a file: .csv
	Capture   string   // of a file: environment, for a device's camera
	Auto      string   // autocomplete; off when empty
	Options   []Option // of a select or a list
	List      []string // texts offered while typing
}

// Option is a choice; Label is what is seen, Value when empty.
type Option struct{ Value, Label string }

// listed are the choices offered while typing.
func (f Field) listed() []Option {
	if f.Type == "list" {
		return f.Options
	}
	return texts(f.List...)
}

// common are the attributes that every field has.
func (f Field) common() templ.OrderedAttributes {
	a := templ.OrderedAttributes{attribute("id", fieldID(f.Name)), attribute("name", f.Name)}
	if f.Required {
		a = append(a, attribute("aria-required", "true"))
	}
	if ids := describedBy(f.Name, f.Hint, f.Error); ids != "" {
		a = append(a, attribute("aria-describedby", ids))
	}
	if f.Error != "" {
		a = append(a, attribute("aria-invalid", "true"))
	}
	return a
}

// input are the attributes of an input element.
func (f Field) input() templ.OrderedAttributes {
	a := f.common()
	switch f.Type {
	case "checkbox":
		return append(a, attribute("type", f.Type), attribute("value", "yes"), attribute("checked", f.Value != ""))
	case "file":
		a = append(a, attribute("type", f.Type), attribute("accept", f.Accept), attribute("multiple", f.Multiple))
		if f.Capture != "" {
			a = append(a, attribute("capture", f.Capture))
		}
		return a
	case "", "list":
		a = append(a, attribute("type", "text"))
	default:
		a = append(a, attribute("type", f.Type))
	}
	a = append(a, attribute("value", f.Value), attribute("autocomplete", orWord(f.Auto, "off")))
	if f.InputMode != "" {
		a = append(a, attribute("inputmode", f.InputMode))
	}
	if len(f.listed()) > 0 {
		a = append(a, attribute("list", fieldID(f.Name)+"-list"))
	}
	return a
}

// attribute is one attribute: text, or a bool that says whether it is there.
func attribute(key string, value any) templ.KeyValue[string, any] { return templ.KV(key, value) }
