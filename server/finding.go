package server

import (
	"barrelbook/store"
	"barrelbook/wear"
)

// FindingRecord is one part and feature as data: the output of the findings
// command and part of a record. Lengths are in Unit.
type FindingRecord struct {
	Kind          string     `json:"kind"`
	Serial        string     `json:"serial"`
	Engine        string     `json:"engine"`
	Position      int        `json:"position"`
	Feature       string     `json:"feature"`
	Groove        int        `json:"groove"`
	Station       string     `json:"station"`
	Hours         float64    `json:"hours"` // in the run, at the latest reading
	Wear          float64    `json:"wear"`
	Unit          string     `json:"unit"`
	Expected      float64    `json:"expected"`
	Ratio         float64    `json:"ratio"`
	RatioLow      float64    `json:"ratio_low"`
	RatioHigh     float64    `json:"ratio_high"`
	Equivalent    float64    `json:"equivalent_hours"`
	P             float64    `json:"p"`
	Test          string     `json:"test"`
	Flagged       bool       `json:"flagged"`
	ReferenceRuns int        `json:"reference_parts"`
	State         string     `json:"state"`
	Verdict       string     `json:"verdict"`
	HoursToLimit  *HoursLeft `json:"hours_to_limit"` // null where it cannot be said
	Sentence      string     `json:"sentence"`

	beyond string // which limit it is beyond, for paper; "" where it is not
}

// HoursLeft is the forecast of hours to the service limit from the latest
// reading: the median and the 90 % interval.
type HoursLeft struct {
	Low    float64 `json:"low"`
	Median float64 `json:"median"`
	High   float64 `json:"high"`
}

// FindingOf writes a finding in the unit of its feature.
func FindingOf(f store.Finding, book wear.Unit) FindingRecord {
	u := store.UnitFor(f.Feature, book)
	r := FindingRecord{Kind: string(f.Kind), Serial: f.Serial, Engine: f.EngineNo, Position: f.Position, Feature: f.Feature.Name, Groove: f.AnyGroove(), Station: f.Station, Hours: f.Hours,
		Wear: toUnit(f.Wear, u), Unit: u.Name, Expected: toUnit(f.Expected, u), Ratio: f.Ratio, RatioLow: f.RatioLow, RatioHigh: f.RatioHigh, Equivalent: f.Equivalent, P: f.Chance, Test: f.Test,
		Flagged: f.Flagged(), ReferenceRuns: f.Refs, State: f.State.String(), Verdict: f.Verdict.String(), Sentence: f.Sentence}
	if f.Verdict == wear.Beyond {
		r.beyond = beyondText(f, book)
	}
	if f.CanSay && f.LeftLow != nil && f.LeftMedian != nil && f.LeftHigh != nil {
		r.HoursToLimit = &HoursLeft{*f.LeftLow, *f.LeftMedian, *f.LeftHigh}
	}
	return r
}

// toUnit turns base units into a unit.
func toUnit(base float64, u wear.Unit) float64 {
	one, err := wear.ParseValue("1", u)
	if err != nil || one == 0 {
		return 0
	}
	return base / float64(one)
}
