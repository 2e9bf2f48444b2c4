package server

import (
	"fmt"
	"strings"

	"barrelbook/store"
	"barrelbook/wear"
)

// benchNeed is a feature of a part that a limit is typed for: how many of its
// spots stand measured on the bench.
type benchNeed struct {
	feature     wear.Feature
	groove      int
	taken, want int
}

// benchNeeds lists what is to be measured of a part in a job: the features
// with a limit, by groove, save fits, which follow from their parts. taken are
// the readings that stand.
func benchNeeds(p store.Part, m store.Model, fs []wear.Feature, ls store.Limits, taken []store.Reading) []benchNeed {
	have := lastBySpot(taken)
	var needs []benchNeed
	for _, f := range fs {
		if f.Kind != p.Kind || f.Fit {
			continue
		}
		for _, g := range groovesOf(f, m) {
			if row, _ := pickLimit(ls, p, f, g, 0); row == nil {
				continue
			}
			n := benchNeed{feature: f, groove: g}
			for _, at := range f.Spots(m.Stations, m.Axes) {
				n.want++
				if _, ok := have[spotKey{f.ID, g, at[0], at[1]}]; ok {
					n.taken++
				}
			}
			needs = append(needs, n)
		}
	}
	return needs
}

// groovesOf are the grooves a feature is measured in; 0 for one without.
func groovesOf(f wear.Feature, m store.Model) []int {
	if !f.Groove {
		return []int{0}
	}
	var gs []int
	for g := 1; g <= m.Grooves; g++ {
		gs = append(gs, g)
	}
	return gs
}

// measuredOf counts the numbers that stand, of those wanted.
func measuredOf(needs []benchNeed) (taken, want int) {
	for _, n := range needs {
		taken, want = taken+n.taken, want+n.want
	}
	return taken, want
}

// missingText names what is still to be measured: "barrel bore (2 of 6), groove
// width (4 of 4), pin diameter".
func missingText(needs []benchNeed) string {
	var all []benchNeed // a feature each, its grooves together
	for _, n := range needs {
		if i := len(all) - 1; i >= 0 && all[i].feature.ID == n.feature.ID {
			all[i].taken, all[i].want = all[i].taken+n.taken, all[i].want+n.want
			continue
		}
		all = append(all, n)
	}
	var parts []string
	for _, n := range all {
		switch {
		case n.taken == n.want:
		case n.want > 1:
			parts = append(parts, fmt.Sprintf("%s (%d of %d)", n.feature.Name, n.want-n.taken, n.want))
		default:
			parts = append(parts, n.feature.Name)
		}
	}
	return strings.Join(parts, ", ")
}
