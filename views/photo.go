package views

// Photos are the photographs of a part or of a position in a job, with the
// form that adds some.
type Photos struct {
	Shots []PhotoShot
	Form  *PhotoForm // nil where none can be added
}

// PhotoShot is one photograph.
type PhotoShot struct {
	Href, Small string // addresses of the picture and of the small one
	Alt         string // "Photograph 12: scored skirt"
	Note, About string // what was typed; "piston P-3, 2026-05-01, R. Moss"
	Void        string // why it was struck out; "" for a good one
	VoidHref    string
}

// PhotoForm is the form that adds photographs. Fields: uid, part, note, who,
// camera, photo.
type PhotoForm struct {
	Action string
	Draft  Draft
	Parts  []Option // that it can be of; none where the form is a part's own
	Most   string   // "15 MB"
}

// PhotosPage is the page of photographs alone: drawn where a file was refused.
type PhotosPage struct {
	Page   Page
	Head   *JobHead // nil for a part's own
	Title  string   // "Photographs of position 3"
	Kept   string   // "2 photographs were saved", where others were refused
	Photos Photos
	Back   Link
}
