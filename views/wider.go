package views

// WiderForm says with whom the runs of a feature are compared. Fields: models,
// surfaces, facings, grooves.
type WiderForm struct {
	Page    Page
	Action  string
	Draft   Draft
	Feature string
	Groove  bool // it is measured by groove, or on rings
	Ring    bool
	Barrel  bool
	Groups  []GroupRow
	Back    Link
}

// GroupRow is some runs of a group that are alike.
type GroupRow struct {
	Group, Model, Spot, Surface, Runs string
	First                             bool // of its group
}
