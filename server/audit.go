package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// audit shows who did what, newest first.
func (s *Server) audit(w http.ResponseWriter, r *http.Request) error {
	at, q := pageOf(r), r.URL.Query()
	filter := store.AuditFilter{Who: q.Get("who"), Day: wear.Day(q.Get("day")), Record: q.Get("record"), Serial: q.Get("serial"), Limit: pageSize, Offset: at.offset()}
	f := blankForm(map[string]string{"who": filter.Who, "day": q.Get("day"), "record": filter.Record, "serial": filter.Serial})
	rows, total, err := s.book.Audit(r.Context(), filter)
	var bad store.Invalid
	if errors.As(err, &bad) {
		err = f.refused(err, nil)
	}
	if err != nil {
		return err
	}
	head, err := s.book.Head(r.Context())
	if err != nil {
		return err
	}
	p := views.Audit{Page: s.page(r, "Who did what", views.NavAudit), Search: f.draft(), Found: entries(total), Head: head.Hash, HeadRow: grouped(itoa(int(head.Rows))), HeadAt: local(head.At, time.DateTime)}
	who, records, err := s.book.AuditChoices(r.Context())
	if err != nil {
		return err
	}
	p.People = append([]views.Option{{Label: "anybody"}}, append(choices(who...), views.Option{Value: "-", Label: "nobody signed in"})...)
	p.Records = []views.Option{{Label: "any record"}}
	for _, name := range records {
		p.Records = append(p.Records, views.Option{Value: name, Label: store.RecordWord(name, 2)})
	}
	p.Older, p.Newer = at.around(r, total)
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	for _, row := range rows {
		u, err := s.book.AuditUnit(r.Context(), row)
		if err != nil {
			return err
		}
		told, err := s.auditRow(r.Context(), row, u, set.Unit)
		if err != nil {
			return err
		}
		before, after, err := s.book.AuditEngines(r.Context(), row)
		if err != nil {
			return err
		}
		if before != after {
			told.Changes = append(told.Changes, views.AuditChange{Field: "only these engines", Before: before, After: after})
		}
		p.Rows = append(p.Rows, told)
	}
	return s.draw(w, r, f.status(), views.AuditPage(p))
}

func entries(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return grouped(itoa(n)) + " entries"
}

func (s *Server) auditRow(ctx context.Context, a store.AuditRow, u, shop wear.Unit) (views.AuditRow, error) {
	row := views.AuditRow{Number: grouped(itoa(int(a.Seq))), At: local(a.At, time.DateTime), Who: a.Who, Device: a.Device, What: capital(a.What), Href: a.Page, Hash: a.Hash}
	if a.Did == "covered" {
		row.Note = "From here on nothing of it can vanish unseen."
		return row, nil
	}
	if a.Rows > 1 {
		row.Note = "Numbers " + grouped(itoa(int(a.First))) + " to " + grouped(itoa(int(a.Last))) + "; their digest is " + a.Digest[:12] + "…"
	}
	before, after := fieldsOf(a.Before), fieldsOf(a.After)
	names := maps.Clone(after)
	maps.Copy(names, before)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		was, refers, err := s.auditWord(ctx, a.Record, name, before[name], u, shop)
		if err != nil {
			return row, err
		}
		is, referred, err := s.auditWord(ctx, a.Record, name, after[name], u, shop)
		if err != nil {
			return row, err
		}
		if refers || referred {
			name = strings.TrimSuffix(strings.TrimSuffix(name, "_id"), "_root")
		}
		row.Changes = append(row.Changes, views.AuditChange{Field: strings.ReplaceAll(name, "_", " "), Before: was, After: is})
	}
	row.New = a.Before == ""
	if row.New && len(row.Changes) > 3 || len(row.Changes) > 8 {
		row.Folded = counted(len(row.Changes), "field")
	}
	return row, nil
}

// auditWord tells what a column holds: the name of what it refers to, a moment by
// the page's clock, or the value as the shop reads it.
func (s *Server) auditWord(ctx context.Context, record, column, value string, u, shop wear.Unit) (word string, refers bool, err error) {
	if word, err = s.book.AuditName(ctx, column, value); err != nil || word != "" {
		return word, true, err
	}
	if strings.HasSuffix(column, "_at") {
		return local(value, time.DateTime), false, nil
	}
	return store.AuditText(record, column, value, u, shop), false, nil
}

// fieldsOf takes the fields of an audit row as text.
func fieldsOf(object string) map[string]string {
	out := map[string]string{}
	var values map[string]json.RawMessage
	if json.Unmarshal([]byte(object), &values) != nil {
		return out // nothing was before, or is after
	}
	for name, v := range values {
		var text string
		if json.Unmarshal(v, &text) != nil {
			text = string(v)
		}
		if text == "null" {
			text = ""
		}
		out[name] = text
	}
	return out
}

// backup copies the book beside itself.
func (s *Server) backup(w http.ResponseWriter, r *http.Request) error {
	path, err := s.book.Backup(r.Context(), "")
	if err != nil {
		return err
	}
	s.say(w, r, "The book was copied to "+path+". Keep a copy on another disk too.")
	http.Redirect(w, r, "/settings", http.StatusSeeOther)
	return nil
}

// bookFacts tell where the book is kept, and its newest backup.
func (s *Server) bookFacts() []views.Fact {
	facts := []views.Fact{{Label: "Book", Value: s.book.Path()}}
	newest := "none beside the book yet"
	if backups := store.Backups(s.book.Path()); len(backups) > 0 {
		newest = filepath.Base(backups[0])
	}
	return append(facts, views.Fact{Label: "Newest backup", Value: newest})
}

// clockDoubt asks, where the clock and the newest entry do not go together,
// whether the clock is right; "" where they do.
func (s *Server) clockDoubt(ctx context.Context) string {
	newest, doubtful, err := s.book.ClockDoubt(ctx)
	if err != nil {
		s.complain(ctx, "look at clock", err)
	}
	if !doubtful {
		return ""
	}
	return fmt.Sprintf("It says %s, and the newest entry of the book is of %s. Entries keep the order in which they are made; look twice at the dates you type.", local(s.book.Now(), time.DateTime), local(newest, time.DateTime))
}
