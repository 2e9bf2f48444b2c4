package wear

import (
	"errors"
	"math/rand"
	"strings"
	"testing"
)

// TestJudgeFacing: the built-in rule is that of the trade press (General
// Aviation News, 21 August 2025: plain rings in a chrome bore); all other
// lines are the test's own list, and the answer must be the list's.
func TestJudgeFacing(t *testing.T) {
	rules := DefaultFacingRules()
	rules.Pairs = []FacingPair{
		{"plain iron", "chrome-plated", true, "manual A, page 7"},
		{"Hard Chrome", "nitrided", false, ""},
		{"hard chrome", "chrome-plated", true, "a wrong entry"},
		{"chrome", "plain steel", true, "manual A, page 7"},
		{"chrome", "plain steel", true, "manual B"},
		{"chrome ceramic", "chrome-plated", true, "manual A, page 8"},
	}
	for _, c := range []struct {
		facing, surface string
		state           FacingState
		builtIn         bool
		words, source   string
	}{
		{"hard chrome", "chrome-plated", FacingNotAllowed, true, "check that entry", "trade press"},
		{"Hard  CHROME", "Chrome plated", FacingNotAllowed, true, "never", "trade press"},
		{"chrome", "chrome-plated", FacingNotAllowed, true, "never", "trade press"},
		{"plain iron", "chrome-plated", FacingAllowed, false, "may run", "manual A, page 7"},
		{"hard chrome", "nitrided", FacingNotAllowed, false, "may not", "no document"},
		{"chrome", "plain steel", FacingAllowed, false, "may run", "manual A"},
		{"chrome ceramic", "chrome-plated", FacingAllowed, false, "may run", "page 8"},
		{"chrome nitride", "chrome-plated", FacingUnknown, false, "look up what they are", ""},
		{"molybdenum", "nitrided", FacingUnknown, false, "says nothing", ""},
		{"", "nitrided", FacingUnknown, false, "facing is not recorded", ""},
		{"plain iron", " ", FacingUnknown, false, "surface is not recorded", ""},
		{"", "", FacingUnknown, false, "Neither", ""},
	} {
		a, err := JudgeFacing(c.facing, c.surface, rules)
		if err != nil || a.State != c.state || a.BuiltIn != c.builtIn || !strings.Contains(a.Words, c.words) || !strings.Contains(a.Source, c.source) {
			t.Errorf("%q on %q: %+v, %v; want %s", c.facing, c.surface, a, err, c.state)
		}
	}
}

func TestJudgeFacingErrors(t *testing.T) {
	rules := DefaultFacingRules()
	rules.Pairs = []FacingPair{{"plain iron", "nitrided", true, ""}, {"Plain-Iron", "nitrided", false, ""}}
	if a, err := JudgeFacing("plain iron", "nitrided", rules); !errors.Is(err, ErrPairTwice) || a.State != "" {
		t.Errorf("a list at odds with itself: %+v, %v", a, err)
	}
	if a, err := JudgeFacing("plain iron", "plain steel", rules); err != nil || a.State != FacingUnknown {
		t.Errorf("another pair of that list: %+v, %v", a, err)
	}
}

// TestFacingNoRules: without names for chrome and without a list nothing is
// known, and an empty name is nobody's.
func TestFacingNoRules(t *testing.T) {
	for _, rules := range []FacingRules{{}, {ChromeFacings: []string{""}, ChromeSurfaces: []string{""}, Pairs: []FacingPair{{"", "", true, ""}}}} {
		for _, pair := range [][2]string{{"hard chrome", "chrome-plated"}, {"", ""}} {
			if a, err := JudgeFacing(pair[0], pair[1], rules); err != nil || a.State != FacingUnknown || a.Words == "" {
				t.Errorf("%q: %+v, %v", pair, a, err)
			}
		}
	}
}

// Whatever a shop's list says and in whatever order, hard chrome never runs on
// hard chrome; a name written otherwise in case, hyphens and spacing is the same
// name; a pair that the list lacks is never allowed. By definition.
func TestFacingProperties(t *testing.T) {
	random := rand.New(rand.NewSource(6))
	names := []string{"hard chrome", "chrome-plated", "plain iron", "nitrided", "plain steel", "molybdenum"}
	written := func(name string) string {
		switch random.Intn(3) {
		case 0:
			return strings.ToUpper(name)
		case 1:
			return strings.ReplaceAll(name, "-", " ")
		}
		return "  " + strings.ReplaceAll(name, " ", "  ")
	}
	for range 2000 {
		rules := DefaultFacingRules()
		listed := map[[2]string]bool{}
		for range random.Intn(8) {
			pair := [2]string{names[random.Intn(len(names))], names[random.Intn(len(names))]}
			if _, twice := listed[pair]; !twice {
				listed[pair] = random.Intn(2) == 0
				rules.Pairs = append(rules.Pairs, FacingPair{Facing: pair[0], Surface: pair[1], Allowed: listed[pair]})
			}
		}
		facing, surface := names[random.Intn(len(names))], names[random.Intn(len(names))]
		a, err := JudgeFacing(facing, surface, rules)
		random.Shuffle(len(rules.Pairs), func(i, j int) { rules.Pairs[i], rules.Pairs[j] = rules.Pairs[j], rules.Pairs[i] })
		b, err2 := JudgeFacing(written(facing), written(surface), rules)
		if err != nil || err2 != nil || a.State != b.State || a.BuiltIn != b.BuiltIn {
			t.Fatalf("%s on %s: %+v, written otherwise %+v, %v %v", facing, surface, a, b, err, err2)
		}
		chromes := namedIn(rules.ChromeFacings, facing) && namedIn(rules.ChromeSurfaces, surface)
		allowed, there := listed[[2]string{facing, surface}]
		if want := !chromes && there && allowed; (a.State == FacingAllowed) != want || chromes && a.State != FacingNotAllowed || !there && !chromes && a.State != FacingUnknown {
			t.Fatalf("%s on %s of %+v: %+v", facing, surface, rules.Pairs, a)
		}
	}
}
