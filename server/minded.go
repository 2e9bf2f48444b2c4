package server

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// minded is what is to be minded at a position beside the readings of its
// parts: a fit, the choke, or the leak test. Its verdict is undecided or beyond, else
// there is nothing.
type minded struct {
	verdict wear.Verdict
	what    string // "fit of skirt in barrel", "leak test"
}

// worse keeps the worse of two, and both that are alike.
func (m minded) worse(v wear.Verdict, what string) minded {
	switch {
	case v < wear.Undecided || v < m.verdict:
		return m
	case v == m.verdict:
		return minded{v, joinText("; ", m.what, what)}
	}
	return minded{v, what}
}

// worstWith is the worst verdict of parts and of what else is to be minded
// there, and the last day a part was measured. The verdict says what it is of
// where that is no part.
func worstWith(slots []store.Slot, m minded) (views.VerdictMark, wear.Day) {
	v, day := worstSlot(slots)
	for _, s := range slots {
		if s.Verdict >= m.verdict {
			return v, day
		}
	}
	if m.verdict > wear.NoLimit {
		v = views.VerdictMark{Word: m.verdict.String(), Note: m.what}
	}
	return v, day
}

// worstOfAll is the worst of what is to be minded at the positions of an
// engine, with where it is: "leak test at 2 and 3".
func worstOfAll(at map[int]minded) (worst minded) {
	for _, m := range at {
		worst.verdict = max(worst.verdict, m.verdict)
	}
	var order []string
	where := map[string][]int{}
	for _, n := range slices.Sorted(maps.Keys(at)) {
		if m := at[n]; m.verdict == worst.verdict && m.what != "" {
			if where[m.what] == nil {
				order = append(order, m.what)
			}
			where[m.what] = append(where[m.what], n)
		}
	}
	for _, what := range order {
		worst.what = joinText("; ", worst.what, what+" at "+wear.ListOf(where[what], itoa))
	}
	return worst
}

// stands is the verdict that counts: the maker's rule decides where it holds.
func (v leakVerdict) stands() wear.Verdict {
	if v.maker != nil && v.maker.Verdict != wear.NoLimit {
		return v.maker.Verdict
	}
	return v.general.Verdict
}

// leakJudged is a leak reading with what it comes to.
type leakJudged struct {
	store.LeakReading
	verdict leakVerdict
}

// judgeLeaks judges readings, each by the rule of its engine's model.
func (s *Server) judgeLeaks(ctx context.Context, rs []store.LeakReading) ([]leakJudged, error) {
	judges := map[int64]leakJudge{}
	out := make([]leakJudged, len(rs))
	for i, r := range rs {
		j, ok := judges[r.Test.Model]
		if !ok {
			var err error
			if j, err = readLeakJudge(ctx, s.book, r.Test.Model); err != nil {
				return nil, err
			}
			judges[r.Test.Model] = j
		}
		v, err := j.judge(r)
		if err != nil {
			return nil, err
		}
		out[i] = leakJudged{r, v}
	}
	return out, nil
}

// leaksOn is what the leak tests give to mind on some engines, by engine and
// position.
func (s *Server) leaksOn(ctx context.Context, engines []int64) (map[int64]map[int]minded, error) {
	rs, err := s.book.LeaksNow(ctx, engines)
	if err != nil {
		return nil, err
	}
	judged, err := s.judgeLeaks(ctx, rs)
	if err != nil {
		return nil, err
	}
	at := map[int64]map[int]minded{}
	for _, x := range judged {
		e := x.Test.Engine
		if at[e] == nil {
			at[e] = map[int]minded{}
		}
		at[e][x.Position] = at[e][x.Position].worse(x.verdict.stands(), "leak test")
	}
	return at, nil
}

// mindedOn is what fits and leak tests give to mind on an engine, by position;
// slots are the parts that sit there.
func (s *Server) mindedOn(ctx context.Context, e store.Engine, slots []store.Slot) (map[int]minded, error) {
	leaks, err := s.leaksOn(ctx, []int64{e.ID})
	if err != nil {
		return nil, err
	}
	at := leaks[e.ID]
	if at == nil {
		at = map[int]minded{}
	}
	stacks, err := s.fitStacks(ctx, e, slots)
	if err != nil {
		return nil, err
	}
	for n, st := range stacks {
		at[n] = st.minded(at[n])
	}
	return at, nil
}

// minded adds the worst fit of a stack, and the choke of its barrel.
func (st stack) minded(m minded) minded {
	if d := st[slotKey{wear.Cylinder, 0}]; d != nil {
		m = m.worse(d.chokeNow(), "choke of the barrel")
	}
	f := st.fits()
	if f == nil {
		return m
	}
	var worst wear.Verdict
	var names []string
	for _, row := range f.Rows {
		for _, v := range []wear.Verdict{wear.Undecided, wear.Beyond} {
			if row.Verdict.Word != v.String() || v < worst {
				continue
			}
			if v > worst {
				worst, names = v, nil
			}
			names = append(names, strings.ToLower(row.Name[:1])+row.Name[1:])
		}
	}
	return m.worse(worst, "fit of "+strings.Join(names, ", "))
}

// fitStacks are the measured parts of each position with what their fits are
// worked out from, and no more.
func (s *Server) fitStacks(ctx context.Context, e store.Engine, slots []store.Slot) (map[int]stack, error) {
	set, err := s.book.Settings(ctx)
	if err != nil {
		return nil, err
	}
	fs, err := s.book.Features(ctx)
	if err != nil {
		return nil, err
	}
	features, limits, models := map[int64]wear.Feature{}, map[int64]store.Limits{}, map[int64]store.Model{e.Model.ID: e.Model}
	for _, f := range fs {
		features[f.ID] = f
	}
	slots = slices.DeleteFunc(slices.Clone(slots), func(x store.Slot) bool { return x.LastDay == "" })
	ids := make([]int64, len(slots))
	for i, x := range slots {
		ids[i] = x.ID
	}
	marks, err := s.book.MarksOf(ctx, ids)
	if err != nil {
		return nil, err
	}
	readings, err := s.book.ReadingsOfParts(ctx, ids)
	if err != nil {
		return nil, err
	}
	stacks := map[int]stack{}
	for _, x := range slots {
		d := &dossier{part: x.Part, set: set, features: features, marks: marks[x.ID], readings: readings[x.ID]}
		model := cmp.Or(x.ModelID, e.Model.ID)
		if _, ok := limits[model]; !ok {
			if limits[model], err = s.book.LimitsOf(ctx, model, ""); err != nil {
				return nil, err
			}
		}
		if _, ok := models[model]; !ok {
			if models[model], err = s.book.Model(ctx, model); err != nil {
				return nil, err
			}
		}
		d.limits, d.model = limits[model], models[model]
		if stacks[x.Position] == nil {
			stacks[x.Position] = stack{}
		}
		stacks[x.Position][slotKey{x.Kind, x.AtGroove}] = d
	}
	return stacks, nil
}

// leakFact is the last leak test of a position in a fact; no value where none
// tells of it any more.
func (s *Server) leakFact(ctx context.Context, engine int64, position int) (views.Fact, error) {
	rs, err := s.book.LeaksNow(ctx, []int64{engine})
	if err != nil {
		return views.Fact{}, err
	}
	i := slices.IndexFunc(rs, func(r store.LeakReading) bool { return r.Position == position })
	if i < 0 {
		return views.Fact{}, nil
	}
	judged, err := s.judgeLeaks(ctx, rs[i:i+1])
	if err != nil {
		return views.Fact{}, err
	}
	x := judged[0]
	return views.Fact{Label: "Leak test", Value: fmt.Sprintf("%s %s, %s: %s", leakText(x.Counts(), x.Test.Regulated), leakHow(x.Test), x.Test.Day, x.verdict.stands()), Href: href("/leaktests/", x.Test.Root)}, nil
}

// leakFindings are the cylinders of which the last leak test is beyond its
// rule, those that held least first.
func (s *Server) leakFindings(ctx context.Context) ([]leakJudged, error) {
	rs, err := s.book.LowLeaksNow(ctx)
	if err != nil || len(rs) == 0 {
		return nil, err
	}
	judged, err := s.judgeLeaks(ctx, rs)
	if err != nil {
		return nil, err
	}
	judged = slices.DeleteFunc(judged, func(x leakJudged) bool { return x.verdict.stands() != wear.Beyond })
	slices.SortStableFunc(judged, func(a, b leakJudged) int { return cmp.Compare(b.verdict.general.Loss, a.verdict.general.Loss) })
	return judged, nil
}

func leakFinding(x leakJudged, e store.Engine) views.FindingRow {
	row := views.FindingRow{Word: wear.Beyond.String(), Part: partName(wear.Cylinder, x.Serial), Href: href("/leaktests/", x.Test.Root), Where: seatText(e.Serial, x.Position, 0), WhereHref: href("/engines/", e.ID, "/positions/", x.Position), Aircraft: e.Aircraft,
		What: "leak test", Measured: string(x.Test.Day), Sentence: "Held " + leakText(x.Counts(), x.Test.Regulated) + " " + leakHow(x.Test) + ".",
		Numbers: []views.Fact{{Label: "loss", Value: fmt.Sprintf("%.1f %%", x.verdict.general.Loss)}},
		First:   "Recheck it warm, after running, and listen at exhaust, intake and breather for where the air goes (FAA AC 43.13-1B, para. 8-14)."}
	if rule := x.verdict.maker; rule != nil && rule.Verdict != wear.NoLimit {
		row.Numbers = append(row.Numbers, views.Fact{Label: "by", Value: "the maker's rule, " + rule.Rule.Document})
	} else {
		row.Numbers = append(row.Numbers, views.Fact{Label: "by", Value: "the general rule, " + wear.GeneralLeakRule.Document})
	}
	if x.Recheck != nil {
		row.Sentence = "Held " + leakText(x.Counts(), x.Test.Regulated) + " warm, at the recheck, " + leakHow(x.Test) + "."
		row.First = "Listen at exhaust, intake and breather for where the air goes: valves, rings or a crack (FAA AC 43.13-1B, para. 8-14)."
	}
	return row
}
