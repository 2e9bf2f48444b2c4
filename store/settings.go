package store

import (
	"context"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// Settings of a book.
type Settings struct {
	Book      string // what tells this book from every other
	Shop      string
	Address   string    // where tablets find the book, for the codes on tags: "https://hangar.local:8444"; empty for that of the request
	Unit      wear.Unit // of lengths, unless an entry says otherwise
	FlagP     float64   // a part is flagged below this chance ...
	FlagRatio float64   // ... and above this ratio
	NextIn    wear.Hours
	EngineP   float64               // a whole engine is flagged below this chance
	FalseMost float64               // the findings are told up to where this share of them could be normal parts
	Expansion map[wear.Kind]float64 // of a kind of part, millionths per K
	Pressure  float64               // a ring that presses so many times as hard as the one it replaces is warned of
	Lock      int                   // minutes without a touch after which a page is covered; 0 for never
	Demo      bool
}

// defaultSettings of a new book; the flag levels are those of the method.
func defaultSettings() Settings {
	d := wear.DefaultSettings()
	expansion := map[wear.Kind]float64{}
	for _, k := range wear.Kinds {
		expansion[k] = wear.MaterialOf(k).Alpha * 1e6
	}
	return Settings{Unit: wear.Inch, EngineP: d.EngineChance, FalseMost: d.Discovery, Expansion: expansion, FlagP: d.FlagChance, FlagRatio: d.FlagRatio, NextIn: 10000, Pressure: wear.DefaultRatioLimits().High, Lock: 15}
}

// wear returns the method's settings with the book's levels.
func (s Settings) wear() wear.Settings {
	w := wear.DefaultSettings()
	w.FlagChance, w.FlagRatio, w.EngineChance, w.Discovery = s.FlagP, s.FlagRatio, s.EngineP, s.FalseMost
	return w
}

// RatioLimits are the limits of a ring's pressure ratio, the lower one the
// same the other way about.
func (s Settings) RatioLimits() wear.RatioLimits {
	return wear.RatioLimits{High: s.Pressure, Low: 1 / s.Pressure}
}

// Material is what a kind of part is made of, with the shop's own expansion
// where it typed one.
func (s Settings) Material(k wear.Kind) wear.Material {
	m := wear.MaterialOf(k)
	if own := s.Expansion[k]; own != m.Alpha*1e6 {
		m = wear.Material{Name: "material of its own", Alpha: own * 1e-6, Source: "typed by the shop"}
	}
	return m
}

// Settings reads the book's settings.
func (b *Book) Settings(ctx context.Context) (Settings, error) { return findSettings(ctx, b.read) }

func findSettings(ctx context.Context, q querier) (Settings, error) {
	s := defaultSettings()
	type pair struct{ key, value string }
	pairs, err := list(ctx, q, func(r scanner, p *pair) error { return r.Scan(&p.key, &p.value) }, "SELECT key, value FROM setting")
	if err != nil {
		return s, fmt.Errorf("read settings: %w", err)
	}
	for _, p := range pairs {
		switch p.key {
		case "book":
			s.Book = p.value
		case "shop":
			s.Shop = p.value
		case "address":
			s.Address = p.value
		case "unit":
			s.Unit, err = wear.UnitNamed(p.value)
		case "flag_chance":
			s.FlagP, err = strconv.ParseFloat(p.value, 64)
		case "flag_ratio":
			s.FlagRatio, err = strconv.ParseFloat(p.value, 64)
		case "next_in":
			s.NextIn, err = wear.ParseHours(p.value)
		case "pressure_ratio":
			s.Pressure, err = strconv.ParseFloat(p.value, 64)
		case "engine_chance":
			s.EngineP, err = strconv.ParseFloat(p.value, 64)
		case "false_share":
			s.FalseMost, err = strconv.ParseFloat(p.value, 64)
		case "lock_minutes":
			s.Lock, err = strconv.Atoi(p.value)
		case "demo":
			s.Demo = p.value == "yes"
		default:
			if kind, ok := strings.CutPrefix(p.key, "expansion_"); ok {
				s.Expansion[wear.Kind(kind)], err = strconv.ParseFloat(p.value, 64)
			}
		}
		if err != nil {
			return s, fmt.Errorf("read setting %s: %w", p.key, err)
		}
	}
	return s, nil
}

// Check says, as Invalid, all that is wrong with the settings.
func (s Settings) Check() error {
	var bad Invalid
	if u, err := url.Parse(s.Address); s.Address != "" && (err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || strings.Trim(u.Path, "/") != "" || u.RawQuery+u.Fragment != "") {
		bad = append(bad, FieldError{Field: "address", Message: "an address such as https://hangar.local:8444, with nothing after it"})
	}
	if s.Unit.Dim != wear.Length {
		bad = append(bad, FieldError{Field: "unit", Message: "choose in or mm"})
	}
	if !(s.FlagP > 0 && s.FlagP < 0.5) {
		bad = append(bad, FieldError{Field: "flag_chance", Message: "a chance between 0 and 0.5, such as 0.0025"})
	}
	if !(s.FlagRatio >= 1 && s.FlagRatio < 100) {
		bad = append(bad, FieldError{Field: "flag_ratio", Message: "a ratio from 1 to 100, such as 1.5"})
	}
	if !(s.EngineP > 0 && s.EngineP < 0.5) {
		bad = append(bad, FieldError{Field: "engine_chance", Message: "a chance between 0 and 0.5, such as 0.005"})
	}
	if !(s.FalseMost >= 0.001 && s.FalseMost <= 0.5) {
		bad = append(bad, FieldError{Field: "false_share", Message: "a share from 0.001 to 0.5, such as 0.10 for 1 in 10"})
	}
	for _, k := range wear.Kinds {
		if a := s.Expansion[k]; !(a >= 0 && a <= 50) {
			bad = append(bad, FieldError{Field: "expansion_" + string(k), Message: "millionths per K, from 0 to 50"})
		}
	}
	if s.NextIn <= 0 {
		bad = append(bad, FieldError{Field: "next_in", Message: "hours between inspections, more than 0"})
	}
	if !(s.Pressure >= 1.01 && s.Pressure <= 3) {
		bad = append(bad, FieldError{Field: "pressure_ratio", Message: "a ratio from 1.01 to 3, such as 1.15"})
	}
	if s.Lock < 0 || s.Lock > 240 {
		bad = append(bad, FieldError{Field: "lock_minutes", Message: "whole minutes from 1 to 240, or 0 for never"})
	}
	return bad.orNil()
}

// SaveSettings keeps the settings; changed flag levels judge the whole book
// anew, a changed expansion summarises the parts that were measured at a known
// temperature anew.
func (b *Book) SaveSettings(ctx context.Context, s Settings) error {
	if err := s.Check(); err != nil {
		return err
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		before, err := findSettings(ctx, t)
		if err != nil {
			return err
		}
		demo := "no"
		if s.Demo {
			demo = "yes"
		}
		values := map[string]string{"shop": s.Shop, "address": strings.TrimRight(s.Address, "/"), "unit": s.Unit.Name, "demo": demo,
			"flag_chance": strconv.FormatFloat(s.FlagP, 'g', -1, 64), "flag_ratio": strconv.FormatFloat(s.FlagRatio, 'g', -1, 64),
			"next_in": s.NextIn.String(), "pressure_ratio": strconv.FormatFloat(s.Pressure, 'g', -1, 64), "engine_chance": strconv.FormatFloat(s.EngineP, 'g', -1, 64),
			"false_share": strconv.FormatFloat(s.FalseMost, 'g', -1, 64), "lock_minutes": strconv.Itoa(s.Lock)}
		for kind, a := range s.Expansion {
			values["expansion_"+string(kind)] = strconv.FormatFloat(a, 'g', -1, 64)
		}
		for key, value := range values {
			if _, err := t.ExecContext(ctx, "INSERT INTO setting (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value", key, value); err != nil {
				return fmt.Errorf("save setting %s: %w", key, err)
			}
		}
		if before.FlagP != s.FlagP || before.EngineP != s.EngineP || before.FlagRatio != s.FlagRatio || before.NextIn != s.NextIn || before.Unit.Name != s.Unit.Name {
			if _, err := t.ExecContext(ctx, "UPDATE peers SET stale = stale + members + 1"); err != nil {
				return fmt.Errorf("mark groups: %w", err)
			}
		}
		for _, k := range wear.Kinds {
			if before.Expansion[k] == s.Expansion[k] {
				continue
			}
			if err := touchMeasured(ctx, t, "part_id IN (SELECT id FROM part WHERE kind = ?) AND part_id IN (SELECT r.part_id FROM reading r JOIN sheet s ON s.id = r.sheet_id WHERE s.temperature IS NOT NULL)", k); err != nil {
				return err
			}
		}
		return nil
	})
}
