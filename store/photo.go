package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// Photo is a photograph of a part, of a position in a job, or of both.
type Photo struct {
	ID            int64
	UID           string // made by whoever sends it, so that sending twice adds nothing
	Job           int64  // 0 for none
	Position      int    // 0 for none
	Part          int64  // 0 for none
	Kind          wear.Kind
	Serial        string // of the part
	Type          string // image/jpeg or image/png
	Width, Height int
	SHA256        string // of its bytes, hex
	Note          string
	Day           wear.Day
	Who           string
	Void          string // why it was struck out; empty for a good one
	SavedAt       string
}

// NewPhoto is a photograph to save: its bytes and those of a small picture of
// it.
type NewPhoto struct {
	Photo
	Bytes, Small []byte
}

const photoQuery = `SELECT f.id, f.uid, coalesce(f.job_id, 0), f.position, coalesce(f.part_id, 0), coalesce(p.kind, ''), coalesce(p.serial, ''), f.type, f.width, f.height, f.sha256, f.note, f.day, f.who, f.void, f.saved_at
	FROM photo f LEFT JOIN part p ON p.id = f.part_id`

func scanPhoto(r scanner, p *Photo) error {
	return r.Scan(&p.ID, &p.UID, &p.Job, &p.Position, &p.Part, &p.Kind, &p.Serial, &p.Type, &p.Width, &p.Height, &p.SHA256, &p.Note, &p.Day, &p.Who, &p.Void, &p.SavedAt)
}

func findPhotos(ctx context.Context, q querier, where string, args ...any) ([]Photo, error) {
	ps, err := list(ctx, q, scanPhoto, photoQuery+" WHERE "+where+" ORDER BY f.id", args...)
	if err != nil {
		return nil, fmt.Errorf("list photographs: %w", err)
	}
	return ps, nil
}

// PhotosOfJob lists the photographs of a job, oldest first, those struck out
// too; of one position where it is not 0.
func (b *Book) PhotosOfJob(ctx context.Context, job int64, position int) ([]Photo, error) {
	return findPhotos(ctx, b.read, "f.job_id = ?1 AND (?2 = 0 OR f.position = ?2)", job, position)
}

// PhotosOfPart lists the photographs of a part, oldest first, those struck out
// too.
func (b *Book) PhotosOfPart(ctx context.Context, part int64) ([]Photo, error) {
	return findPhotos(ctx, b.read, "f.part_id = ?", part)
}

// PhotosOfEngine lists the photographs of the positions of an engine in its
// jobs that name no part.
func (b *Book) PhotosOfEngine(ctx context.Context, engine int64) ([]Photo, error) {
	return findPhotos(ctx, b.read, "f.part_id IS NULL AND f.job_id IN (SELECT id FROM job WHERE engine_id = ?)", engine)
}

// Photo finds a photograph by its id.
func (b *Book) Photo(ctx context.Context, id int64) (Photo, error) {
	ps, err := findPhotos(ctx, b.read, "f.id = ?", id)
	if err == nil && len(ps) == 0 {
		err = fmt.Errorf("find photograph: %w", ErrNotFound)
	}
	if err != nil {
		return Photo{}, err
	}
	return ps[0], nil
}

// PhotoBytes reads a photograph, or the small picture of it.
func (b *Book) PhotoBytes(ctx context.Context, id int64, small bool) ([]byte, error) {
	bytes, err := one(ctx, b.read, func(r scanner, d *[]byte) error { return r.Scan(d) }, "SELECT CASE WHEN ? THEN small ELSE bytes END FROM photo_data WHERE photo_id = ?", small, id)
	if err != nil {
		return nil, fmt.Errorf("read photograph: %w", err)
	}
	return bytes, nil
}

// AddPhotos keeps photographs, all or none. Those whose UID is in the book
// already are not kept again. Errors: ErrNotFound; Invalid at "job" for a job
// that ended, at "position" for a position that is not in it.
func (b *Book) AddPhotos(ctx context.Context, ps []NewPhoto) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		for _, p := range ps {
			if err := addPhoto(ctx, t, p); err != nil {
				return err
			}
		}
		return nil
	})
}

func addPhoto(ctx context.Context, t *tx, p NewPhoto) error {
	if p.UID == "" {
		p.UID = newUID()
	}
	known, err := findPhotos(ctx, t, "f.uid = ?", p.UID)
	if err != nil || len(known) > 0 {
		return err
	}
	if err := checkPhotoPlace(ctx, t, p.Photo); err != nil {
		return err
	}
	hash := sha256.Sum256(p.Bytes)
	id, err := t.insert(ctx, `INSERT INTO photo (uid, job_id, position, part_id, type, width, height, sha256, note, day, who, saved_at)
		VALUES (?, nullif(?, 0), ?, nullif(?, 0), ?, ?, ?, ?, ?, ?, ?, ?)`, p.UID, p.Job, p.Position, p.Part, p.Type, p.Width, p.Height, hex.EncodeToString(hash[:]), strings.TrimSpace(p.Note), p.Day, nameOf(ctx, p.Who), t.at)
	if err != nil {
		return fmt.Errorf("save photograph: %w", err)
	}
	if _, err := t.insert(ctx, "INSERT INTO photo_data (photo_id, bytes, small) VALUES (?, ?, ?)", id, p.Bytes, p.Small); err != nil {
		return fmt.Errorf("save photograph: %w", err)
	}
	return nil
}

// checkPhotoPlace wants a part that is there, and a job that is under way with
// the position in it.
func checkPhotoPlace(ctx context.Context, t *tx, p Photo) error {
	if p.Part != 0 {
		if _, err := findPart(ctx, t, p.Part); err != nil {
			return err
		}
	}
	if p.Job == 0 {
		return nil
	}
	j, err := findJob(ctx, t, p.Job)
	if err != nil {
		return err
	}
	if !j.Open() {
		return invalid("job", "the job was %s on %s: reopen it first, or keep the photograph with the part", j.Ended, j.EndDay)
	}
	w, err := findWork(ctx, t, j.Engine)
	if err != nil {
		return err
	}
	if w.JobAt(p.Position) != j.ID {
		return invalid("position", "position %d is not in this job", p.Position)
	}
	return nil
}

// VoidPhoto strikes a photograph out with a reason; it stays in the book.
func (b *Book) VoidPhoto(ctx context.Context, id int64, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the photograph is struck out")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		ps, err := findPhotos(ctx, t, "f.id = ?", id)
		if err != nil {
			return err
		}
		if len(ps) == 0 {
			return fmt.Errorf("find photograph: %w", ErrNotFound)
		}
		if ps[0].Void != "" {
			return invalid("reason", "it was struck out already: %s", ps[0].Void)
		}
		if _, err := t.ExecContext(ctx, "UPDATE photo SET void = ? WHERE id = ?", why, id); err != nil {
			return fmt.Errorf("strike out photograph: %w", err)
		}
		return nil
	})
}
