package server

import (
	"cmp"
	"fmt"
	"net/http"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// leakList is the page of an engine's leak tests.
func (s *Server) leakList(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	j, err := readLeakJudge(r.Context(), s.book, e.Model.ID)
	if err != nil {
		return err
	}
	all, err := s.book.LeakReadingsOn(r.Context(), e.ID)
	if err != nil {
		return err
	}
	p := views.LeakList{Page: s.page(r, "Leak tests of "+e.Serial, views.NavEngines), Engine: e.Serial, Href: href("/engines/", e.ID), About: e.Model.Name, NewHref: href("/engines/", e.ID, "/leak/new"), RuleHref: href("/models/", e.Model.ID, "/leak"), Rules: j.rules()}
	if p.Tests, err = leakTestRows(j, all); err != nil {
		return err
	}
	if len(all) > 0 {
		if p.Trends, err = s.leakTrends(r, e, j); err != nil {
			return err
		}
	}
	return s.draw(w, r, http.StatusOK, views.LeakListPage(p))
}

// byLeakTest parts readings, which are in the order of their tests, test by
// test.
func byLeakTest(all []store.LeakReading) [][]store.LeakReading {
	var tests [][]store.LeakReading
	for i, r := range all {
		if i == 0 || r.Test.Root != all[i-1].Test.Root {
			tests = append(tests, nil)
		}
		last := &tests[len(tests)-1]
		*last = append(*last, r)
	}
	return tests
}

func leakTestRows(j leakJudge, all []store.LeakReading) ([]views.LeakTestRow, error) {
	var rows []views.LeakTestRow
	for _, rs := range byLeakTest(all) {
		row, err := leakTestRow(j, rs)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// leakTestRow is a test in a line: its worst verdicts, and what each position
// to be minded is.
func leakTestRow(j leakJudge, rs []store.LeakReading) (views.LeakTestRow, error) {
	h := rs[0].Test
	row := views.LeakTestRow{Day: string(h.Day), Href: href("/leaktests/", h.Root), Hours: hours(h.Hours), How: h.Regulated.String() + " psi " + leakHow(h), Who: h.Who}
	var maker, general wear.Verdict
	tested := 0
	at := map[string][]int{} // positions to mind, by what is said of them
	for _, r := range rs {
		if r.Struck || r.Reading == nil {
			continue
		}
		tested++
		v, err := j.judge(r)
		if err != nil {
			return row, err
		}
		general = max(general, v.general.Verdict)
		if v.maker != nil {
			maker = max(maker, v.maker.Verdict)
		}
		switch {
		case v.stands() >= wear.Undecided:
			at[v.stands().String()] = append(at[v.stands().String()], r.Position)
		case v.mind():
			said := v.general.Verdict.String() + " by the general rule"
			at[said] = append(at[said], r.Position)
		}
	}
	row.Tested, row.ByMaker, row.Maker, row.General = counted(tested, "cylinder"), j.maker != nil, views.VerdictMark{Word: maker.String()}, views.VerdictMark{Word: general.String()}
	var said []string
	for _, v := range []string{wear.Beyond.String(), wear.Undecided.String()} {
		for _, by := range []string{"", " by the general rule"} {
			if ps := at[v+by]; len(ps) > 0 {
				said = append(said, v+by+": "+wear.ListOf(ps, itoa))
			}
		}
	}
	row.WorstAt = strings.Join(said, "; ")
	return row, nil
}

// leakTrends is a row a position: the cylinder that sits there now.
func (s *Server) leakTrends(r *http.Request, e store.Engine, j leakJudge) ([]views.LeakTrendRow, error) {
	sitting, err := s.cylindersOn(r, e)
	if err != nil {
		return nil, err
	}
	rows := make([]views.LeakTrendRow, e.Cylinders)
	runs, most := make([]store.LeakRun, e.Cylinders), 0.0
	for i := range rows {
		rows[i].Position = i + 1
		c, ok := sitting[i+1]
		if !ok {
			continue
		}
		rows[i].Cylinder, rows[i].Href = c.Serial, href("/parts/", c.ID)
		if runs[i], err = s.book.LeakRunOf(r.Context(), c.ID); err != nil {
			return nil, err
		}
		most = max(most, mostArea(runs[i]))
	}
	for i, run := range runs {
		n := len(run.Readings)
		if n == 0 {
			continue
		}
		last := run.Readings[n-1]
		v, err := j.judge(last)
		if err != nil {
			return nil, err
		}
		row := &rows[i]
		row.Latest, row.About = leakText(last.Counts(), last.Test.Regulated), leakHow(last.Test)+", "+string(last.Test.Day)
		row.Maker, row.General = v.marks()
		row.ByMaker, row.Area, row.Trend, row.Spark = v.maker != nil, areaText(run.Leaks[n-1]), leakTrend(run), spark(run, most)
	}
	return rows, nil
}

// cylindersOn are the cylinders that sit on an engine now, by position.
func (s *Server) cylindersOn(r *http.Request, e store.Engine) (map[int]store.Slot, error) {
	slots, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return nil, err
	}
	at := map[int]store.Slot{}
	for _, x := range slots[e.ID] {
		if x.Kind == wear.Cylinder {
			at[x.Position] = x
		}
	}
	return at, nil
}

// leakTest is the page of a saved test.
func (s *Server) leakTest(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	heads, rs, err := s.book.LeakTest(r.Context(), n)
	if err != nil {
		return err
	}
	h := heads[0]
	j, err := readLeakJudge(r.Context(), s.book, h.Model)
	if err != nil {
		return err
	}
	p := views.LeakResult{Page: s.page(r, "Leak test of "+h.EngineNo+", "+string(h.Day), views.NavEngines), Engine: h.EngineNo, EngineHref: href("/engines/", h.Engine), Day: string(h.Day), Facts: leakFacts(h), Rules: j.rules(), Maker: j.maker != nil,
		CorrectHref: href("/leaktests/", h.Root, "/correct"), RuleHref: href("/models/", h.Model, "/leak"), Before: headsBefore(heads),
		Next: []views.Link{{Text: "All leak tests of " + h.EngineNo, Href: href("/engines/", h.Engine, "/leak")}}}
	if p.Facts, err = s.addReceipt(r.Context(), p.Facts, heads[len(heads)-1].UID, heads[len(heads)-1].Who); err != nil {
		return err
	}
	for i, x := range rs {
		row, err := s.leakRow(r, j, x)
		if err != nil {
			return err
		}
		if x.Struck { // the reason stands with the entry that replaced it, which comes next
			row.Reason = rs[i+1].Reason
		}
		p.Rows = append(p.Rows, row)
	}
	return s.draw(w, r, http.StatusOK, views.LeakResultPage(p))
}

func (s *Server) leakRow(r *http.Request, j leakJudge, x store.LeakReading) (views.LeakRow, error) {
	row := views.LeakRow{Position: x.Position, Cylinder: x.Serial, Href: href("/parts/", x.Part), Reading: leakText(x.Reading, x.Test.Regulated), Struck: x.Struck, Reason: x.Reason}
	if x.Recheck != nil {
		row.Recheck = "rechecked warm: " + leakText(x.Recheck, x.Test.Regulated)
	}
	if x.Struck {
		return row, nil
	}
	row.CorrectHref = href("/leakreadings/", x.Root, "/correct")
	if x.Reading == nil {
		return row, nil
	}
	v, err := j.judge(x)
	if err != nil {
		return row, err
	}
	all, err := s.book.LeakReadingsOf(r.Context(), x.Part)
	if err != nil {
		return row, err
	}
	if row.Change, err = leakChange(beforeLeak(all, x), x); err != nil {
		return row, err
	}
	run, err := s.book.LeakRunOf(r.Context(), x.Part)
	if err != nil {
		return row, err
	}
	if len(run.Readings) > 1 {
		row.Trend = leakTests(run) + " " + leakTrend(run)
	}
	row.Maker, row.General = v.marks()
	row.Loss, row.Area, row.Reasons, row.Worked = fmt.Sprintf("%.1f %%", v.general.Loss), areaText(v.general.Leak), v.reasons(), j.leakWorked(x, v)
	if step, ok := trendStep(run); ok {
		row.Worked.Steps = append(row.Worked.Steps, step)
	}
	row.Mind = v.mind() || len(x.Heard) > 0
	if x.Recheck == nil && v.mind() {
		row.Reasons = append(row.Reasons, "No warm recheck is recorded: enter it by Correct.")
	}
	return row, nil
}

func leakFacts(h store.LeakTest) []views.Fact {
	facts := []views.Fact{{Label: "Date", Value: string(h.Day)}, {Label: "Engine hours", Value: hours(h.Hours)}}
	add := func(label, value string) {
		if value != "" {
			facts = append(facts, views.Fact{Label: label, Value: value})
		}
	}
	add("Tested by", h.Who)
	for _, f := range leakHeadFacts(h) {
		add(f.Label, f.Value)
	}
	add("Note", h.Note)
	return facts
}

// leakHeadFacts is what a test was made with.
func leakHeadFacts(h store.LeakTest) []views.Fact {
	facts := []views.Fact{{Label: "Regulated", Value: h.Regulated.String() + " psi"}, {Label: "Orifice", Value: orificeText(h.Orifice)}, {Label: "Tester", Value: testerText(h)}}
	if h.Master != nil {
		facts = append(facts, views.Fact{Label: "Master orifice", Value: h.Master.String() + " psi"})
	}
	if h.Minutes != nil {
		facts = append(facts, views.Fact{Label: "Since shutdown", Value: itoa(*h.Minutes) + " min"})
	}
	if h.Ambient != nil {
		facts = append(facts, views.Fact{Label: "Pressure outside", Value: h.Ambient.String() + " psi"})
	}
	return facts
}

func testerText(h store.LeakTest) string {
	switch {
	case h.Tester == "":
		return "not recorded"
	case h.Overdue():
		return h.Tester + " (calibration was overdue since " + string(h.Due) + ")"
	case h.Due != "":
		return h.Tester + ", calibration due " + string(h.Due)
	}
	return h.Tester
}

// headsBefore are the heads of a test that were corrected, oldest first, each
// with the reason of what replaced it.
func headsBefore(heads []store.LeakTest) []views.Correction {
	var cs []views.Correction
	for i := len(heads) - 1; i > 0; i-- {
		var facts []string
		for _, f := range leakHeadFacts(heads[i]) {
			facts = append(facts, strings.ToLower(f.Label)+" "+f.Value)
		}
		by := heads[i-1]
		cs = append(cs, views.Correction{Value: strings.Join(facts, ", "), Reason: by.Reason, Who: by.Corrected, When: day(by.SavedAt)})
	}
	return cs
}

// partLeak is the leak tests of a cylinder on its page; nil where it had none.
func (s *Server) partLeak(r *http.Request, d *dossier) (*views.PartLeak, error) {
	if d.part.Kind != wear.Cylinder {
		return nil, nil
	}
	run, err := s.book.LeakRunOf(r.Context(), d.part.ID)
	n := len(run.Readings)
	if err != nil || n == 0 {
		return nil, err
	}
	last := run.Readings[n-1]
	j, err := readLeakJudge(r.Context(), s.book, last.Test.Model)
	if err != nil {
		return nil, err
	}
	v, err := j.judge(last)
	if err != nil {
		return nil, err
	}
	p := &views.PartLeak{Latest: leakText(last.Counts(), last.Test.Regulated) + " " + leakHow(last.Test) + ", " + string(last.Test.Day), Href: href("/leaktests/", last.Test.Root), AllHref: href("/engines/", last.Test.Engine, "/leak"),
		ByMaker: v.maker != nil, Area: areaText(run.Leaks[n-1]), Trend: leakTrend(run), Tests: leakTests(run), Spark: spark(run, mostArea(run))}
	p.Maker, p.General = v.marks()
	return p, nil
}

// lastLeak is the engine's last leak test in a fact; no value where it had
// none.
func (s *Server) lastLeak(r *http.Request, e store.Engine) (views.Fact, error) {
	all, err := s.book.LeakReadingsOn(r.Context(), e.ID)
	if err != nil || len(all) == 0 {
		return views.Fact{}, err
	}
	j, err := readLeakJudge(r.Context(), s.book, e.Model.ID)
	if err != nil {
		return views.Fact{}, err
	}
	row, err := leakTestRow(j, byLeakTest(all)[0])
	if err != nil {
		return views.Fact{}, err
	}
	worst := row.General.Word
	if row.ByMaker && row.Maker.Word != wear.NoLimit.String() {
		worst = row.Maker.Word
	}
	text := row.Day + ", " + cmp.Or(row.WorstAt, worst)
	return views.Fact{Label: "Last leak test", Value: text, Href: row.Href}, nil
}
