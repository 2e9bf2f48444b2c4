package server

import (
	"net/http"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// sameLeakHead are the fields of a test's head that the next test from the
// same browser begins with. The orifice is not among them: it is read off the
// tester each time.
var sameLeakHead = []string{"who", "tester"}

// newLeakTest is the sheet of a leak test.
func (s *Server) newLeakTest(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	j, err := readLeakJudge(r.Context(), s.book, e.Model.ID)
	if err != nil {
		return err
	}
	gauges, err := s.book.Gauges(r.Context())
	if err != nil {
		return err
	}
	first := who(r, s.remembered(r, sameLeakHead))
	first["uid"], first["day"], first["regulated"] = newUID(), string(s.book.Today()), wear.UsualRegulated.String()
	f := blankForm(first)
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n := readLeakTest(f, e)
		if err := s.refuseTurning(r, f, e.ID, n.Day); err != nil {
			return err
		}
		if !f.ok() && len(n.Readings) > 0 {
			if f.has("day", "hours") {
				n.Day = ""
			}
			if err := f.refused(s.book.CheckLeakTest(r.Context(), n), nil); err != nil {
				return err
			}
		} else if f.ok() {
			root, err := s.book.SaveLeakTest(r.Context(), n)
			if err == nil {
				s.remember(w, r, f, sameLeakHead)
				return s.redirect(w, r, href("/leaktests/", root), "The leak test was saved.")
			}
			if err := f.refused(err, map[string]string{"test": ""}); err != nil {
				return err
			}
		}
		if err := f.refuse(r); err != nil {
			return err
		}
	}
	p := views.LeakForm{Page: s.page(r, "Leak test of "+e.Serial, views.NavEngines), Action: href("/engines/", e.ID, "/leak/new"), Draft: f.draft(), Engine: e.Serial, Href: href("/engines/", e.ID, "/leak"), About: e.Model.Name,
		Suggest: j.suggestion(), Orifices: usualOrifices, Testers: testers(gauges, s.book.Today()), Rules: j.rules()}
	if e.Aircraft != "" {
		p.About += ", " + e.Aircraft
	}
	p.HoursHint, p.OffsetHint = meterHints(e)
	p.Meter = lastMeter(e)
	if p.Rows, err = s.leakFormRows(r, e, f); err != nil {
		return err
	}
	return s.draw(w, r, f.status(), views.LeakFormPage(p))
}

// testers are the gauges that read in psi.
func testers(gauges []store.Gauge, today wear.Day) []views.Option {
	var in []store.Gauge
	for _, g := range gauges {
		if g.Unit.Name == store.Psi.Name {
			in = append(in, g)
		}
	}
	return gaugeChoices(in, today)
}

func (s *Server) leakFormRows(r *http.Request, e store.Engine, f *form) ([]views.LeakFormRow, error) {
	sitting, err := s.cylindersOn(r, e)
	if err != nil {
		return nil, err
	}
	var rows []views.LeakFormRow
	for n := 1; n <= e.Cylinders; n++ {
		row := views.LeakFormRow{Position: n, Master: n == e.MasterRod, InstallHref: href("/engines/", e.ID, "/positions/", n, "/install")}
		if c, ok := sitting[n]; ok {
			row.Cylinder, row.Href = c.Serial, href("/parts/", c.ID)
			all, err := s.book.LeakReadingsOf(r.Context(), c.ID)
			if err != nil {
				return nil, err
			}
			for _, x := range all {
				if !x.Struck && x.Reading != nil {
					row.Last, row.LastAbout = x.Counts().String()+" of "+x.Test.Regulated.String(), leakHow(x.Test)+", "+string(x.Test.Day)
					break
				}
			}
		}
		if f.has("part-"+itoa(n)) || f.text("part-"+itoa(n)) != "" {
			if d, err := wear.ParseDay(f.text("day")); err == nil {
				sat, err := s.book.LeakSitters(r.Context(), e.ID, n, d)
				if err != nil {
					return nil, err
				}
				for _, st := range sat {
					row.Sitters = append(row.Sitters, views.Option{Value: strconv.FormatInt(st.Part, 10), Label: sitterText(st)})
				}
			}
		}
		rows = append(rows, row)
	}
	return rows, nil
}

func sitterText(st store.Stay) string {
	t := st.Serial + ", there from " + string(st.From)
	if !st.Open() {
		t += " to " + string(st.To)
	}
	return t
}

// psi reads a pressure; nil where it is empty.
func (f *form) psi(name string) *wear.PSI {
	t := f.text(name)
	if t == "" {
		return nil
	}
	p, err := wear.ParsePSI(t)
	if err != nil {
		f.fault(name, "%s", err)
		return nil
	}
	return &p
}

func readLeakTest(f *form, e store.Engine) store.NewLeakTest {
	n := store.NewLeakTest{LeakTest: store.LeakTest{UID: f.text("uid"), Engine: e.ID, Day: f.day("day"), Who: f.text("who"), Note: f.text("note")}}
	h := f.hours("hours")
	n.Shows = &h
	readLeakHead(f, &n.LeakTest)
	for at := 1; at <= e.Cylinders; at++ {
		no := itoa(at)
		psi, warm, heard := f.psi("psi-"+no), f.psi("warm-"+no), readAir(f, "air-"+no)
		if psi == nil {
			if f.text("psi-"+no) == "" && (f.text("warm-"+no) != "" || len(heard) > 0) {
				f.fault("psi-"+no, "type what the gauge read first")
			}
			continue
		}
		n.Readings = append(n.Readings, store.NewLeakReading{Position: at, Part: f.ref("part-" + no), Reading: *psi, Recheck: warm, Heard: heard, Field: "psi-" + no, PartField: "part-" + no})
	}
	for _, name := range f.left("psi", "warm", "air") {
		f.fault(name, "%q was typed where this sheet has no field any more", f.values[name])
	}
	return n
}

// readLeakHead reads what a test was made with.
func readLeakHead(f *form, h *store.LeakTest) {
	if p := f.psi("regulated"); p != nil {
		h.Regulated = *p
	} else if f.text("regulated") == "" {
		f.fault("regulated", "give the regulated pressure, 80 psi as a rule")
	}
	h.Unit = wear.Inch
	if v := f.value("orifice", wear.Inch); v != nil {
		h.Orifice = *v
	} else if f.text("orifice") == "" {
		f.fault("orifice", "give the orifice's diameter: a reading means nothing without it")
	}
	h.Master, h.Ambient, h.Gauge = f.psi("master"), f.psi("ambient"), f.ref("tester")
	if f.text("minutes") != "" {
		m := f.number("minutes", 0, 10_000, true)
		h.Minutes = &m
	}
}

// readAir reads the boxes of where air was heard.
func readAir(f *form, name string) []wear.AirHeard {
	var heard []wear.AirHeard
	for i, place := range wear.AirPlaces {
		if f.text(name+"-"+itoa(i)) != "" {
			heard = append(heard, place)
		}
	}
	return heard
}
