package server

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/wear"
)

// errSentBefore is a form with the mark of one that was saved before, but with
// something else in it: it was drawn before that save.
var errSentBefore = errors.New("the form was sent before with something else in it")

// save keeps the placing; the words to say come back, empty where something is
// wrong with the form.
func (k *placingWork) save() (string, error) {
	despite := k.f.text("despite")
	if k.page.Despite && despite == "" {
		k.f.fault("despite", "%s. Choose another, or say why it goes there all the same", strings.Join(k.speaks, ". Besides, "))
	}
	after := k.f.ref("after")
	if !k.f.ok() {
		return "", nil
	}
	places := k.changed(despite)
	if len(places) == 0 {
		return "The placing stands as it was saved before.", nil
	}
	if err := k.s.book.Place(k.ctx, k.job.ID, places, k.f.text("uid"), after); err != nil {
		return "", err
	}
	now, err := k.s.book.Placings(k.ctx, k.job.ID)
	if err != nil {
		return "", err
	}
	for _, p := range now {
		if slices.Contains(k.positions, p.Position) && k.chosen[store.PlaceField(p.Position, p.Kind, p.Groove)] != p.Part {
			return "", errSentBefore
		}
	}
	return fmt.Sprintf("The placing of %s is saved for the refit.", counted(len(k.positions), "position")), nil
}

// spokenAgainst reports whether a ring's facing or pressure speaks against it at
// a place.
func (k *placingWork) spokenAgainst(ring store.Part, position, groove int) bool {
	barrel := k.at(position, wear.Cylinder, 0)
	return k.pressed[pressKey{ring.ID, position, groove}].hard() || barrel != nil && facingWhy(barrel.part, []store.Part{ring}, k.rules) != ""
}

// changed lists the places of the positions at which something differs from
// what was saved.
func (k *placingWork) changed(despite string) []store.Placing {
	saved := map[string]int64{}
	for _, p := range k.placings {
		saved[store.PlaceField(p.Position, p.Kind, p.Groove)] = p.Part
	}
	var out []store.Placing
	for _, position := range k.positions {
		var mine []store.Placing
		differs := false
		for _, kind := range wear.Kinds {
			for g := range k.grooves + 1 {
				field := store.PlaceField(position, kind, g)
				if k.lines[field] == nil || (g > 0) != (kind == wear.Ring) {
					continue
				}
				p := store.Placing{Position: position, Kind: kind, Groove: g, Part: k.chosen[field]}
				if kind == wear.Ring && p.Part != 0 && k.spokenAgainst(k.parts[p.Part].part, position, g) {
					p.Despite = despite
				}
				was, known := saved[field]
				differs = differs || !known || was != p.Part
				mine = append(mine, p)
			}
		}
		if differs {
			out = append(out, mine...)
		}
	}
	return out
}
