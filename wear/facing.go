package wear

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// FacingState says whether a ring facing may run on a bore surface.
type FacingState string

// The three answers.
const (
	FacingAllowed    FacingState = "allowed"
	FacingNotAllowed FacingState = "not allowed"
	FacingUnknown    FacingState = "unknown"
)

// FacingPair is one line of a shop's list.
type FacingPair struct {
	Facing, Surface string
	Allowed         bool
	Document        string // where the shop has it from
}

// FacingRules are the shop's list, and the names that count as hard chrome on
// a ring and in a bore.
type FacingRules struct {
	Pairs          []FacingPair
	ChromeFacings  []string
	ChromeSurfaces []string
}

// DefaultFacingRules know chrome by its usual names and list no pairs. A ring
// that is just called chrome counts as hard chrome, to be on the safe side.
// Source: common practice, no source.
func DefaultFacingRules() FacingRules {
	return FacingRules{
		ChromeFacings:  []string{"hard chrome", "chrome", "chrome-plated", "hard chrome-plated", "chromium", "hard chromium"},
		ChromeSurfaces: []string{"chrome-plated", "chrome", "hard chrome", "porous chrome", "channel chrome", "chromium-plated"},
	}
}

// FacingAnswer is what is to be said of a pair.
type FacingAnswer struct {
	Facing, Surface string
	State           FacingState
	Words           string
	Source          string
	BuiltIn         bool // the program's own rule decided, not the shop's list
}

// ErrPairTwice is a list that allows and forbids the same pair.
var ErrPairTwice = errors.New("the list both allows and forbids this pair of facing and surface")

// chromeRule is where the built-in rule comes from.
const chromeRule = "General Aviation News, 21 August 2025 (trade press); the maker's manual prevails"

// JudgeFacing answers whether a ring with this facing may run in a bore with
// this surface. Hard chrome never runs on hard chrome, whatever the list says;
// every other pair is as the shop's list has it, and unknown where it has
// nothing. Names are compared without regard to case, hyphens and spacing.
//
// Errors: ErrPairTwice. Source: trade press (General Aviation News, 21 August
// 2025: plain rings in a chrome bore, chrome rings in the others); the list is
// the shop's own.
func JudgeFacing(facing, surface string, rules FacingRules) (FacingAnswer, error) {
	a := FacingAnswer{Facing: facing, Surface: surface, State: FacingUnknown}
	listed, err := rules.find(facing, surface)
	if err != nil {
		return FacingAnswer{}, err
	}
	switch {
	case namedIn(rules.ChromeFacings, facing) && namedIn(rules.ChromeSurfaces, surface):
		a.State, a.BuiltIn, a.Source = FacingNotAllowed, true, chromeRule
		a.Words = fmt.Sprintf("A ring faced with %s never runs in a %s bore: chrome on chrome scuffs and wears both.", facing, surface)
		if listed != nil && listed.Allowed {
			a.Words += " The shop's list allows this pair; check that entry."
		}
	case listed != nil && listed.Allowed:
		a.State, a.Source = FacingAllowed, listed.from()
		a.Words = fmt.Sprintf("A ring faced with %s may run in a %s bore.", facing, surface)
	case listed != nil:
		a.State, a.Source = FacingNotAllowed, listed.from()
		a.Words = fmt.Sprintf("A ring faced with %s may not run in a %s bore.", facing, surface)
	default:
		a.Words = unknownPair(facing, surface)
	}
	return a, nil
}

func unknownPair(facing, surface string) string {
	missing := ""
	switch f, s := NormalName(facing), NormalName(surface); {
	case f == "" && s == "":
		missing = "Neither the ring's facing nor the bore's surface is recorded."
	case f == "":
		missing = "The ring's facing is not recorded."
	case s == "":
		missing = "The bore's surface is not recorded."
	case strings.Contains(f, "chrom") && strings.Contains(s, "chrom"):
		return fmt.Sprintf("Both %s and %s name chrome, and hard chrome never runs on hard chrome: look up what they are before fitting.", facing, surface)
	default:
		return fmt.Sprintf("The shop's list says nothing of %s on %s: look it up in the maker's list before fitting.", facing, surface)
	}
	return missing + " Find out before fitting."
}

// find returns the list's line for a pair, nil where there is none.
func (r FacingRules) find(facing, surface string) (*FacingPair, error) {
	var found *FacingPair
	if NormalName(facing) == "" || NormalName(surface) == "" {
		return nil, nil
	}
	for i, p := range r.Pairs {
		if NormalName(p.Facing) != NormalName(facing) || NormalName(p.Surface) != NormalName(surface) {
			continue
		}
		if found != nil && found.Allowed != p.Allowed {
			return nil, fmt.Errorf("find %s on %s: %w", facing, surface, ErrPairTwice)
		}
		if found == nil {
			found = &r.Pairs[i]
		}
	}
	return found, nil
}

func (p FacingPair) from() string {
	if p.Document == "" {
		return "the shop's list, which names no document"
	}
	return "the shop's list: " + p.Document
}

func namedIn(names []string, name string) bool {
	return slices.ContainsFunc(names, func(n string) bool { return NormalName(n) != "" && NormalName(n) == NormalName(name) })
}
