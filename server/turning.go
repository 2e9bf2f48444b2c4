package server

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"unicode"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// turning keeps how a model's crank brings its cylinders up.
func (s *Server) turning(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	m, err := s.book.Model(r.Context(), n)
	if err != nil {
		return err
	}
	f := blankForm(turningValues(m))
	back := views.Link{Text: "Back to the measuring plan", Href: href("/models/", m.ID)}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		u, spread, overhaul := readTurning(f, m.Cylinders)
		if err := f.refused(u.Check(m.Cylinders), nil); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.SaveTurning(r.Context(), m.ID, u, spread, overhaul)
			if err == nil {
				return s.redirect(w, r, back.Href, "The order of "+m.Name+" was saved.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.draw(w, r, f.status(), views.TurningPage(views.TurningForm{Page: s.page(r, "Order of "+m.Name, views.NavLimits), Action: href("/models/", m.ID, "/turning"), Draft: f.draft(), Model: m.Name, Radial: m.Arrangement == "radial" || m.Arrangement == "", Back: back}))
}

func turningValues(m store.Model) map[string]string {
	u := m.Turning
	v := map[string]string{"rows": itoa(u.Rows), "firing": commas(u.Firing), "order_off": commas(u.OrderOff), "order_on": commas(u.OrderOn)}
	if u.Anticlockwise {
		v["anticlockwise"] = "yes"
	}
	if m.Spread != 0 {
		v["spread"] = m.Spread.Format(wear.Gram)
	}
	if m.Overhaul != 0 {
		v["overhaul"] = m.Overhaul.String()
	}
	return v
}

func readTurning(f *form, cylinders int) (u store.Turning, spread wear.Value, overhaul wear.Hours) {
	u = store.Turning{Rows: f.number("rows", 1, 2, true), Anticlockwise: f.text("anticlockwise") != "", Firing: f.positions("firing", cylinders), OrderOff: f.positions("order_off", cylinders), OrderOn: f.positions("order_on", cylinders)}
	if v := f.value("spread", wear.Gram); v != nil {
		if *v < 0 {
			f.fault("spread", "%s", wear.ErrNegative)
		}
		spread = *v
	}
	if h := f.optionalHours("overhaul"); h != nil {
		overhaul = *h
	}
	return u, spread, overhaul
}

// positions reads position numbers with commas or blanks between, each from 1
// to most.
func (f *form) positions(name string, most int) []int {
	ps, why := positionsIn(f.text(name), most)
	if why != "" {
		f.fault(name, "%s", why)
	}
	return ps
}

func positionsIn(text string, most int) (ps []int, why string) {
	for _, t := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || unicode.IsSpace(r) }) {
		n, err := strconv.Atoi(t)
		if err != nil || n < 1 || n > most {
			return nil, fmt.Sprintf("%q is no position: the engine has 1 to %d", t, most)
		}
		ps = append(ps, n)
	}
	return ps, ""
}

// commas writes positions as they are typed.
func commas(ps []int) string {
	texts := make([]string, len(ps))
	for i, p := range ps {
		texts[i] = itoa(p)
	}
	return strings.Join(texts, ", ")
}
