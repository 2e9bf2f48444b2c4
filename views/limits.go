package views

// LimitTable is the table of limits of one engine model.
type LimitTable struct {
	Page     Page
	Models   []Option // every model, value is the id
	ModelID  string   // of the one shown
	Model    string   // its name; "" when the book has no model
	PlanHref string
	LeakHref string // the maker's rule for leak tests
	NewHref  string
	Groups   []LimitGroup
	Bare     []string // features without any limit: "pin, pin diameter"
}

// LimitGroup is the limits of one kind of part.
type LimitGroup struct {
	Kind string
	Rows []LimitLine
}

// LimitLine is one version of a line of the table. Numbers are written in
// Unit; "" where the maker gives none.
type LimitLine struct {
	Feature, Groove, Ref   string
	NewMin, NewMax         string
	ServiceMin, ServiceMax string
	Unit, Wear, Life       string
	Document, Revision     string
	PageNo                 string
	Since                  string // when it was typed
	Until                  string // when the next version replaced it, "" for the one in force
	HistoryHref, NewHref   string
}

// LimitForm types a line of the maker's table. It always adds a version.
// Fields: model (hidden), feature, groove, ref, new_min, new_max, service_min,
// service_max, unit, wear, life, document, revision, page.
type LimitForm struct {
	Page     Page
	Action   string
	Draft    Draft
	ModelID  string
	Model    string
	Back     Link
	Features []OptionGroup // a group a kind; value is the feature's id
	Units    []Option
	Version  string // id of the line in force that this replaces, "" for a new one
	Fixed    string // which line that is
	Wear     string // which way it goes, where that is not asked
	Goes     string // the same in words
	Replaces string // "5.2490 to 5.2510 in, service at most 5.2560, since 2024-01-05"; "" for a new line
}

// UsualWear is the answer that a number goes the way its feature goes.
const UsualWear = "usual"

// OptionGroup is choices under a heading.
type OptionGroup struct {
	Label   string
	Options []Option
}

// LimitHistory is every version of one line, newest first.
type LimitHistory struct {
	Page    Page
	Model   string
	Heading string // "Barrel bore, groove 1"
	Back    Link
	NewHref string
	Rows    []LimitLine
}

// pick is the state of the form that picks a model.
func (p LimitTable) pick() Draft {
	return Draft{Values: map[string]string{"model": p.ModelID}}
}
