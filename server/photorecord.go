package server

import (
	"cmp"
	"context"

	"barrelbook/store"
	"barrelbook/views"
)

// PhotoRecord lists a photograph in a record. The hash is that of the picture
// as the book keeps and sends it.
type PhotoRecord struct {
	SHA256   string `json:"sha256"`
	Day      string `json:"day"`
	Note     string `json:"note,omitempty"`
	Who      string `json:"who,omitempty"`
	Job      int64  `json:"job,omitempty"`
	Position int    `json:"position,omitempty"`
	Struck   string `json:"struck,omitempty"`

	id int64
}

func photoRecords(ps []store.Photo) []PhotoRecord {
	var out []PhotoRecord
	for _, p := range ps {
		out = append(out, PhotoRecord{SHA256: p.SHA256, Day: string(p.Day), Note: p.Note, Who: p.Who, Job: p.Job, Position: p.Position, Struck: p.Void, id: p.ID})
	}
	return out
}

// paperPhotos are the small pictures of photographs that were not struck out,
// for the end of a printed record.
func paperPhotos(ctx context.Context, book *store.Book, of string, ps []PhotoRecord) ([]views.PaperPhoto, error) {
	var out []views.PaperPhoto
	for _, p := range ps {
		if p.Struck != "" {
			continue
		}
		small, err := book.PhotoBytes(ctx, p.id, true)
		if err != nil {
			return nil, err
		}
		out = append(out, views.PaperPhoto{Name: cmp.Or(of, "Position "+itoa(p.Position)), About: joinText(", ", p.Day, p.Who), Note: p.Note, JPEG: small})
	}
	return out, nil
}
