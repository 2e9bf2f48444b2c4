package wear

import (
	"errors"
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
