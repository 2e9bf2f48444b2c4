package views

// Tags is the page of shelf tags: those of a job, or that of one part.
type Tags struct {
	Page   Page
	Head   *JobHead // nil for one part
	Title  string   // for one part
	Back   Link     // for one part
	Which  []JobWay // all, or only those that do not go back
	Local  string   // why the codes open nothing on a tablet; "" where they do
	Shop   string
	Parts  []Tag
	Nobody string // why there is no tag
}

// Tag hangs on a part while it lies on a shelf.
type Tag struct {
	Kind, Serial, PartNumber string
	Verdict                  VerdictMark
	Scrapped                 bool
	Hours                    []Fact // since new, overhaul, installation
	Job                      string // "Job 12, position 3: top overhaul"
	Disposition              string // "replace: side clearance beyond its limit"
	Day                      string
	Address                  string // opens the part
}

// qr draws the code that opens the part; nothing where it does not fit one.
func (t Tag) qr() string {
	svg, err := qrSVG(t.Address, "Code that opens "+t.Kind+" "+t.Serial)
	if err != nil {
		return ""
	}
	return svg
}
