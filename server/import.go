package server

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"barrelbook/store"
	"barrelbook/views"
)

// uploads are the files of dry runs that wait for a person's word. They live
// in the system's temporary folder, are forgotten after a while, and are gone
// with the program.
type uploads struct {
	mu   sync.Mutex
	kept map[string]*upload
}

type upload struct {
	dir   string
	names []string
	at    time.Time
}

// Bounds of what waits.
const (
	mostUploads   = 8
	longestUpload = 30 * time.Minute
)

// keep stores the files of a form and returns the token that finds them again.
func (u *uploads) keep(files []*multipart.FileHeader) (string, error) {
	dir, err := os.MkdirTemp("", "barrelbook-import-")
	if err != nil {
		return "", fmt.Errorf("keep upload: %w", err)
	}
	up := &upload{dir: dir, at: time.Now()}
	for i, h := range files {
		if err := keepFile(h, up.path(i)); err != nil {
			return "", errors.Join(err, os.RemoveAll(dir))
		}
		up.names = append(up.names, filepath.Base(h.Filename))
	}
	token := rand.Text()
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.kept == nil {
		u.kept = map[string]*upload{}
	}
	u.kept[token] = up
	return token, u.forget()
}

// forget removes what waited too long, and the oldest where there are many.
func (u *uploads) forget() error {
	var errs []error
	for len(u.kept) > 0 {
		oldest := ""
		for t, up := range u.kept {
			if oldest == "" || up.at.Before(u.kept[oldest].at) {
				oldest = t
			}
		}
		if len(u.kept) <= mostUploads && time.Since(u.kept[oldest].at) < longestUpload {
			break
		}
		errs = append(errs, os.RemoveAll(u.kept[oldest].dir))
		delete(u.kept, oldest)
	}
	return errors.Join(errs...)
}

func (u *upload) path(i int) string { return filepath.Join(u.dir, strconv.Itoa(i)+".csv") }

func keepFile(h *multipart.FileHeader, path string) error {
	in, err := h.Open()
	if err != nil {
		return fmt.Errorf("read upload: %w", err)
	}
	defer in.Close()
	out, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("keep upload: %w", err)
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

func (u *uploads) take(token string) *upload {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.kept[token]
}

func (u *uploads) drop(token string) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	up := u.kept[token]
	if up == nil {
		return nil
	}
	delete(u.kept, token)
	return os.RemoveAll(up.dir)
}

// Close removes what still waits.
func (s *Server) Close() error {
	var errs []error
	for t := range s.uploads.kept {
		errs = append(errs, s.uploads.drop(t))
	}
	return errors.Join(errs...)
}

// importFiles takes CSV files: first a dry run, then, confirmed, for real.
func (s *Server) importFiles(w http.ResponseWriter, r *http.Request) error {
	p := views.Import{Page: s.page(r, "Import", views.NavImport), Action: "/import"}
	if r.Method == http.MethodGet {
		return s.draw(w, r, http.StatusOK, views.ImportPage(p))
	}
	err := r.ParseForm()
	if err == nil && isUpload(r) {
		err = r.ParseMultipartForm(8 << 20)
	}
	if err != nil {
		return fmt.Errorf("%w: %w", errBadForm, err)
	}
	token, confirmed := r.FormValue("token"), r.FormValue("token") != ""
	if !confirmed {
		var files []*multipart.FileHeader
		if r.MultipartForm != nil {
			for _, h := range r.MultipartForm.File["files"] {
				if h.Size > 0 {
					files = append(files, h)
				}
			}
		}
		if len(files) == 0 {
			p.Fault = "choose at least one CSV file"
			return s.draw(w, r, http.StatusUnprocessableEntity, views.ImportPage(p))
		}
		if token, err = s.uploads.keep(files); err != nil {
			return err
		}
	}
	up := s.uploads.take(token)
	if up == nil {
		p.Fault = "those files are no longer here: choose them again"
		return s.draw(w, r, http.StatusUnprocessableEntity, views.ImportPage(p))
	}
	return s.runImport(w, r, p, up, token, confirmed)
}

func (s *Server) runImport(w http.ResponseWriter, r *http.Request, p views.Import, up *upload, token string, confirmed bool) error {
	good := true
	all := func(into store.Importer) error {
		for i, name := range up.names {
			report, err := ImportFile(r.Context(), into, up.path(i))
			v := importView(name, report)
			if err != nil {
				if !isFileFault(err) {
					return err
				}
				v.Fault = err.Error()
			}
			good = good && err == nil && report.OK()
			p.Files = append(p.Files, v)
		}
		return nil
	}
	var err error
	if confirmed {
		err = s.book.Import(r.Context(), all)
	} else {
		err = s.book.TryImport(r.Context(), all)
	}
	if err != nil {
		return err
	}
	status := http.StatusOK
	switch {
	case confirmed:
		p.Done = true
		s.saved()
		if err := s.uploads.drop(token); err != nil {
			return err
		}
	case good:
		p.Token = token
	default:
		status = http.StatusUnprocessableEntity
		if err := s.uploads.drop(token); err != nil {
			return err
		}
	}
	return s.draw(w, r, status, views.ImportPage(p))
}

// fileFault is an error of a file that its owner can mend.
type fileFault struct{ error }

func (f fileFault) Unwrap() error { return f.error }

func isFileFault(err error) bool {
	var f fileFault
	return errors.As(err, &f)
}

// ImportFile reads a CSV file and imports it: all rows, or none where one is
// bad.
func ImportFile(ctx context.Context, into store.Importer, path string) (store.ImportReport, error) {
	in, err := os.Open(path)
	if err != nil {
		return store.ImportReport{}, fmt.Errorf("open file: %w", err)
	}
	defer in.Close()
	f, err := ReadCSV(in)
	if err != nil {
		return store.ImportReport{}, fileFault{err}
	}
	if f.Report.Kind == "limits" {
		err = into.Limits(ctx, f.Limits, &f.Report)
	} else {
		err = into.History(ctx, f.History, &f.Report)
	}
	return f.Report, err
}

// importView is a report as the page shows it.
func importView(name string, report store.ImportReport) views.ImportFile {
	v := views.ImportFile{Name: name, Format: report.Kind, More: report.BadRows - len(report.Errors)}
	if v.Format == "" {
		v.Format = "not known"
	}
	for _, c := range []struct {
		label string
		n     int
	}{{"Rows read", report.Rows}, {"Readings", report.Readings}, {"Installations, removals and work", report.Events}, {"Limits", report.Limits}, {"Already in the book", report.Already}, {"Bad rows", report.BadRows}} {
		if c.n > 0 || c.label == "Rows read" {
			v.Counts = append(v.Counts, views.Fact{Label: c.label, Value: grouped(itoa(c.n))})
		}
	}
	for _, m := range []struct {
		what  string
		names []string
	}{{"Engine models", report.Models}, {"Engines", report.Engines}, {"Parts", report.Parts}, {"Installations the file does not tell", report.Installations}, {"Features", report.Features}} {
		if len(m.names) > 0 {
			shown := m.names[:min(len(m.names), 50)]
			v.Made = append(v.Made, views.Made{What: m.what, Names: shown, More: len(m.names) - len(shown)})
		}
	}
	for _, e := range report.Errors {
		v.Bad = append(v.Bad, views.BadRow{Line: itoa(e.Line), Column: e.Column, Value: e.Value, Reason: e.Reason})
	}
	v.More = max(v.More, 0)
	return v
}
