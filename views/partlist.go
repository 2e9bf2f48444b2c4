package views

// PartList is the table of parts with its search. Fields of the search: q,
// kind, status.
type PartList struct {
	Page     Page
	Query    string
	Kind     string
	Status   string
	Kinds    []Option // without "any": the page adds it
	Statuses []Option
	Rows     []PartRow
	Found    string // "1,204 parts"
	Older    string // href of the page before, "" for none
	Newer    string // href of the page after, "" for none
	Empty    bool   // the book has no part yet
}

// PartRow is one part in the table.
type PartRow struct {
	Kind, Serial, PartNumber string
	Where                    string // "R-1021, position 3, groove 2", "on shelf", "scrapped"
	WhereHref                string
	Hours                    string // since new, "" where not known
	Measured                 string
	Worst                    VerdictMark
	Finding                  string // "flagged", "acknowledged", ""
	Href                     string
}

// PartForm makes a part or changes its description. Fields: kind, serial,
// part_number, model, source, oversize, surface, facing, groove, width_class,
// weight, material, modulus, hours_before, overhaul_before, note.
type PartForm struct {
	Page       Page
	Action     string
	Draft      Draft
	New        bool
	Kind       string // of a part that exists: it stays
	Back       Link
	Kinds      []Option
	Models     []Option // engine models, value is the id
	Sources    []Option
	Surfaces   []Option
	Materials  []Option // of rings
	Unit       string   // of lengths: in or mm
	WeightUnit string   // g
}

// partLabels are the labels of a part's fields.
var partLabels = map[string]string{
	"kind": "Kind", "serial": "Serial or shop number", "part_number": "Part number", "model": "Fits engine model",
	"source": "Source", "hours_before": "Hours since new", "overhaul_before": "Hours since overhaul",
	"oversize": "Oversize", "surface": "Barrel surface", "groove": "Groove", "facing": "Facing",
	"width_class": "Width class", "material": "Ring material", "modulus": "Modulus of elasticity", "weight": "Weight", "note": "Note",
}

// search is the state of the search form.
func (p PartList) search() Draft {
	return Draft{Values: map[string]string{"q": p.Query, "kind": p.Kind, "status": p.Status}}
}

// partField gives a field the name and label of one of a part's.
func partField(name string, f Field) Field {
	f.Name, f.Label = name, partLabels[name]
	return f
}
