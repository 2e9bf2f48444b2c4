package views

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"github.com/a-h/templ"
)

// drawn renders a page to text.
func drawn(t *testing.T, c templ.Component) string {
	t.Helper()
	var b strings.Builder
	if err := c.Render(context.Background(), &b); err != nil {
		t.Fatalf("draw page: %v", err)
	}
	return b.String()
}

// tagOf finds the element's opening tag with the attribute text in it.
func tagOf(t *testing.T, page, attribute string) string {
	t.Helper()
	tag := regexp.MustCompile(`<[a-z]+[^>]*\s` + regexp.QuoteMeta(attribute) + `[^>]*>`).FindString(page)
	if tag == "" {
		t.Fatalf("the page has no element with %s", attribute)
	}
	return tag
}

// aBarrel is a sheet of one cylinder with a bore of two spots, a weight, and a
// ring with two single numbers.
func aBarrel() Sheet {
	one := func(feature, name string) SheetBlock {
		return SheetBlock{ID: "b-" + name, Feature: feature, Unit: "in", Heads: []string{""}, Rows: []SheetRow{{Cells: []SheetCell{{Name: name}}}}}
	}
	bore := SheetBlock{ID: "b-1-1", Feature: "Barrel bore", Unit: "in", Nominal: "5.2500", Step: "thousandths", RowHead: "Station", Heads: []string{"thrust", "pin"},
		Rows: []SheetRow{{Label: "top", Cells: []SheetCell{
			{Name: "v-1-1-0-0-0", Label: "top, thrust", Last: "5.2511", LastDay: "2025-01-02"},
			{Name: "v-1-1-0-0-1", Label: "top, pin"}}}}}
	gap := one("End gap", "v-2-3-0-0-0")
	gap.Bore = &SheetExtra{Name: "b-2-3"}
	return Sheet{Name: "position 3", Action: "/measure/engine/1/3", OnEngine: true, Units: texts("in", "mm"), Parts: []SheetPart{
		{ID: "part-1", Name: "Cylinder C-1", Blocks: []SheetBlock{bore, one("Weight", "v-1-4-0-0-0")}},
		{ID: "part-2", Name: "Ring R-1", Blocks: []SheetBlock{one("Axial width", "v-2-2-0-0-0"), gap}},
	}}
}

// A sheet that was refused shows every number as it was typed, and the message
// belongs to the cell for those who hear the page.
func TestSheetKeepsWhatWasTyped(t *testing.T) {
	s := aBarrel()
	s.Draft = Draft{
		Values: map[string]string{"v-1-1-0-0-0": "5.2535", "v-1-1-0-0-1": "5,2531", "b-2-3": "5.25", "who": "A. Fitter", "mode": ModeDial},
		Faults: []Fault{{Field: "v-1-1-0-0-1", Message: "not a number"}},
	}
	page := drawn(t, SheetPage(s))
	for name, value := range s.Draft.Values {
		if name == "mode" {
			continue
		}
		if tag := tagOf(t, page, `name="`+name+`"`); !strings.Contains(tag, `value="`+value+`"`) {
			t.Errorf("%s lost %q: %s", name, value, tag)
		}
	}
	bad := tagOf(t, page, `name="v-1-1-0-0-1"`)
	if !strings.Contains(bad, `aria-invalid="true"`) || !strings.Contains(bad, `f-v-1-1-0-0-1-error`) {
		t.Errorf("the bad cell is not marked: %s", bad)
	}
	if !strings.Contains(page, `id="f-v-1-1-0-0-1-error">not a number`) {
		t.Error("the message does not stand at the cell")
	}
	if good := tagOf(t, page, `name="v-1-1-0-0-0"`); strings.Contains(good, "aria-invalid") {
		t.Errorf("a good cell is marked: %s", good)
	}
	if !strings.Contains(page, `<a href="#f-v-1-1-0-0-1">Cylinder C-1, Barrel bore, top, pin</a>`) {
		t.Error("the summary does not lead to the cell by its name")
	}
	if tag := tagOf(t, page, `value="dial"`); !strings.Contains(tag, "checked") {
		t.Errorf("the way of typing was lost: %s", tag)
	}
}

func TestSheetGroups(t *testing.T) {
	s := aBarrel()
	if g := s.Parts[0].groups(); len(g) != 2 || !g[0].grid() || g[1].grid() {
		t.Errorf("cylinder: want a grid, then a line; got %d groups", len(g))
	}
	if g := s.Parts[1].groups(); len(g) != 1 || len(g[0]) != 2 {
		t.Errorf("ring: want its two single numbers in one table; got %d groups", len(g))
	}
}

func TestHowRead(t *testing.T) {
	for _, c := range []struct {
		block SheetBlock
		want  string
	}{
		{SheetBlock{Nominal: "5.2500", Step: "thousandths"}, "with a sign, +3.5: thousandths from 5.2500"},
		{SheetBlock{}, ""},
	} {
		if got := c.block.howRead(); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

// What has no limit and was never measured is folded away, but not when a
// number stands there, and not when there is nothing else.
func TestSheetFoldsRareFeatures(t *testing.T) {
	s := aBarrel()
	usual, rare := s.Parts[0].split()
	if len(usual.Blocks) != 1 || usual.Blocks[0].Feature != "Barrel bore" || rare.names() != "weight" {
		t.Errorf("usual %s, rare %s; want the bore and the weight", usual.names(), rare.names())
	}
	if usual, rare = s.Parts[1].split(); len(usual.Blocks) != 2 || len(rare.Blocks) != 0 {
		t.Errorf("a ring never measured: usual %s, rare %s; want all usual", usual.names(), rare.names())
	}
	if tag := tagOf(t, drawn(t, SheetPage(s)), `class="rare"`); strings.Contains(tag, "open") {
		t.Errorf("rare features are not folded: %s", tag)
	}
	s.Draft.Values = map[string]string{"v-1-4-0-0-0": "5021"}
	if tag := tagOf(t, drawn(t, SheetPage(s)), `class="rare"`); !strings.Contains(tag, "open") {
		t.Errorf("a typed number is folded away: %s", tag)
	}
}
