package views

// OwnFeatures lists what can be measured and takes a feature of the shop's
// own. Fields: kind, name, unit, wear.
type OwnFeatures struct {
	Page   Page
	Action string
	Draft  Draft
	Kinds  []Option
	Units  []string // known units, any other may be typed
	Rows   []FeatureRow
}

// FeatureRow is one feature.
type FeatureRow struct {
	Kind, Name, Unit, Wear string
	Spots                  string // "stations and axes", "by groove", ""
	BuiltIn                bool
	GroupHref              string // with whom it is compared
}

// Gauges lists the shop's gauges and takes a new one, or a change to one.
// Fields: id (hidden), name, unit, sd, operator_sd, resolution, due.
type Gauges struct {
	Page   Page
	Action string
	Draft  Draft
	Change string // the name of the gauge that is changed, "" for a new one
	Units  []Option
	Rows   []GaugeRow
}

// GaugeRow is one gauge.
type GaugeRow struct {
	Name, Unit, SD, Resolution string
	Operator                   string // standard deviation between people, or that it is not known
	U                          string // the standard uncertainty of one reading
	Due                        string
	Overdue                    bool
	Href                       string // opens it in the form
}

// ModelPlan is a model's measuring plan. Fields: stations, axes, grooves.
type ModelPlan struct {
	Page    Page
	Action  string
	Draft   Draft
	Model   string
	Unit    string // of its lengths
	Back    Link
	Engines string // "3 engines", those it counts for
	Others  []Link // other pages of the model
}

// SettingsForm is the book's settings. Fields: shop, address, unit, flag_chance,
// flag_ratio, false_share, next_in, pressure_ratio.
type SettingsForm struct {
	Page   Page
	Action string
	Draft  Draft
	Units  []Option
	Book   []Fact // where the book lies and how much it holds
}
