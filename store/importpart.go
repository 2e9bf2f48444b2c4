package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// importPart is a part of the file with where it sits at this point of it.
type importPart struct {
	ID, ModelID            int64
	Kind                   wear.Kind
	Serial, Source, Status string
	Groove                 int
	Oversize               wear.Value
	HoursBefore            wear.Hours
	known                  *Part // as the book had it before; nil where the file brought it

	stays []importStay // oldest first
	ran   bool         // it was told to have run where no engine is known
}

// told notes hours since installation, where no engine is known.
func (p *importPart) told(since *wear.Hours) *wear.Hours {
	p.ran = p.ran || *since > 0
	return since
}

// importStay is a Stay without what an import can do without.
type importStay struct {
	ID       int64
	EngineNo string
	wear.Stay
}

func knownPart(p *Part) *importPart {
	return &importPart{ID: p.ID, ModelID: p.ModelID, Kind: p.Kind, Serial: p.Serial, Source: p.Source, Status: p.Status, Groove: p.Groove, Oversize: p.Oversize, HoursBefore: p.HoursBefore, known: p}
}

// part is what installing a part needs of it.
func (p *importPart) part() Part {
	if p.known != nil {
		return *p.known
	}
	return Part{ID: p.ID, ModelID: p.ModelID, Kind: p.Kind, Serial: p.Serial, Source: p.Source, Status: p.Status, Groove: p.Groove}
}

func (p *importPart) stay(s importStay) Stay {
	return Stay{ID: s.ID, Part: p.ID, Kind: p.Kind, Serial: p.Serial, EngineNo: s.EngineNo, Stay: s.Stay}
}

func (p *importPart) allStays() []Stay {
	var all []Stay
	for _, s := range p.stays {
		all = append(all, p.stay(s))
	}
	return all
}

func (im *historyImport) part(ctx context.Context, t *tx, r *HistoryRow) (*importPart, error) {
	k := [2]string{string(r.Kind), strings.ToLower(r.Serial)}
	if p := im.parts[k]; p != nil {
		return p, nil
	}
	var found []Part
	var err error
	if !im.noParts {
		if found, err = partsNamed(ctx, t, r.Kind, r.Serial); err != nil {
			return nil, err
		}
	}
	if len(found) > 1 {
		return nil, rowFault{"serial", r.Serial, fmt.Sprintf("stands for %d parts with different part numbers: enter these readings on the part's page", len(found))}
	}
	var p *importPart
	if len(found) == 1 {
		p = knownPart(&found[0])
		stays, err := findStays(ctx, t, "s.part_id = ? AND s.void = ''", p.ID)
		if err != nil {
			return nil, err
		}
		for _, s := range stays {
			p.stays = append(p.stays, importStay{s.ID, s.EngineNo, s.Stay})
		}
		err = t.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM mark WHERE part_id = ?1 AND void = '' AND coalesce(since_install, at_hours) > 0)
			OR EXISTS (SELECT 1 FROM reading WHERE part_id = ?1 AND (since_install IS NOT NULL OR part_hours IS NOT NULL) AND coalesce(since_install, part_hours) > 0 AND value IS NOT NULL)`, p.ID).Scan(&p.ran)
		if err != nil {
			return nil, fmt.Errorf("read hours of part: %w", err)
		}
	} else {
		added, err := im.addPart(ctx, t, r)
		if err != nil {
			return nil, err
		}
		p = knownPart(&added)
		p.known = nil
	}
	im.parts[k] = p
	return p, nil
}

func (im *historyImport) addPart(ctx context.Context, t *tx, r *HistoryRow) (Part, error) {
	p := Part{Kind: r.Kind, Serial: r.Serial, Source: "serviceable used", Status: "on shelf"}
	if r.Event == string(wear.InstalledNew) {
		p.Source = "new"
	}
	if r.Kind == wear.Ring {
		p.Groove = r.Groove
	}
	if r.Event == EventReading && r.Engine != "" && r.PartHours != nil {
		p.HoursBefore = *r.PartHours // it ran before the file begins
	}
	if r.Model != "" {
		model, err := im.model(ctx, t, r.Model)
		if err != nil {
			return p, err
		}
		p.ModelID = model
	}
	if r.Engine != "" && r.Position > 0 && (r.Event == EventInstalled || r.Event == EventReading || r.Event == string(wear.InstalledNew)) {
		p.Status = "on engine" // where this row puts it, or it is a bad row
	}
	var err error
	if p.ID, err = addPart(ctx, t, p); err != nil {
		return p, err
	}
	im.report.Parts = append(im.report.Parts, fmt.Sprintf("%s %s", p.Kind, p.Serial))
	return p, nil
}
