package server

import (
	"fmt"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// size is a reading of a part with what it comes to at 20 °C.
type size struct {
	wear.SpotReading // at 20 °C where the temperature is known, else as read
	read             wear.Value
	celsius          *float64
	sheet            store.Sheet
	bore             *wear.Value // in which an end gap was measured
}

// temperatureU is the standard uncertainty taken for a part's temperature, °C
// (a choice without a source).
const temperatureU = 1

// sized carries a reading to 20 °C where its sheet says how warm the part was.
func (d *dossier) sized(x store.Reading) size {
	g := wear.Gauged{Value: *x.Value, U: x.U()}
	s := size{SpotReading: wear.SpotReading{Spot: wear.Spot{Station: x.Station, Axis: x.Axis}, Gauged: g}, read: *x.Value, sheet: x.Sheet, bore: x.Bore}
	if x.Sheet.Temperature == nil || d.features[x.Feature].Dim != wear.Length {
		return s
	}
	if at20, err := wear.At20(g, *x.Sheet.Temperature, temperatureU, d.set.Material(d.part.Kind)); err == nil {
		s.Gauged, s.celsius = at20, x.Sheet.Temperature
	}
	return s
}

// at20Text says what a reading comes to at 20 °C, where that differs in the
// digits shown: "5.1272 at 20 °C"; else "".
func (d *dossier) at20Text(x store.Reading, u wear.Unit) string {
	if x.Value == nil || x.Sheet.Temperature == nil {
		return ""
	}
	s := d.sized(x)
	was, is := inUnit(float64(s.read), u, 0), inUnit(float64(s.Value), u, 0)
	if was == is {
		return ""
	}
	return is + " at 20 °C"
}

// featureNamed is the built-in feature of the part's kind with that name.
func (d *dossier) featureNamed(name string) (wear.Feature, bool) {
	for _, f := range d.features {
		if f.BuiltIn && f.Kind == d.part.Kind && f.Name == name {
			return f, true
		}
	}
	return wear.Feature{}, false
}

// latestSizes are the sizes of a feature on the newest sheet that has it.
func (d *dossier) latestSizes(name string, groove int) []size {
	f, ok := d.featureNamed(name)
	if !ok {
		return nil
	}
	var out []size
	for _, x := range d.readings { // newest sheet first
		if x.Struck || x.Value == nil || x.Feature != f.ID || x.Groove != groove {
			continue
		}
		if len(out) > 0 && out[0].sheet.ID != x.Sheet.ID {
			break
		}
		out = append(out, d.sized(x))
	}
	return out
}

// firstSizes are the sizes of a feature on the first sheet of its present run.
func (d *dossier) firstSizes(name string, groove int) []size {
	f, ok := d.featureNamed(name)
	if !ok {
		return nil
	}
	run, sheet := 0, int64(0)
	var out []size
	for _, x := range d.readings {
		if x.Struck || x.Value == nil || x.Feature != f.ID || x.Groove != groove {
			continue
		}
		_, at, ok := d.runHours(x)
		if !ok || run != 0 && at != run {
			break
		}
		if run = at; x.Sheet.ID != sheet {
			out, sheet = nil, x.Sheet.ID
		}
		out = append(out, d.sized(x))
	}
	return out
}

func spotReadings(ss []size) []wear.SpotReading {
	out := make([]wear.SpotReading, len(ss))
	for i, s := range ss {
		out[i] = s.SpotReading
	}
	return out
}

// largestOf and smallestOf pick a size; there is at least one.
func largestOf(ss []size) size {
	return pickSize(ss, func(a, b size) bool { return a.Value > b.Value })
}
func smallestOf(ss []size) size {
	return pickSize(ss, func(a, b size) bool { return a.Value < b.Value })
}

func pickSize(ss []size, better func(a, b size) bool) size {
	best := ss[0]
	for _, s := range ss[1:] {
		if better(s, best) {
			best = s
		}
	}
	return best
}

// where says where a size was measured: "top, thrust".
func (s size) where() string { return spot(0, s.Station, s.Axis) }

// warmthStep says how sizes of a kind of part were carried to 20 °C; nil where
// none was.
func warmthStep(ss []size, kind wear.Kind, set store.Settings) *views.WorkedStep {
	var read []string
	var warm size
	for _, s := range ss {
		if s.celsius == nil {
			continue
		}
		if t := fmt.Sprintf("%g °C", *s.celsius); !slices.Contains(read, t) {
			read, warm = append(read, t), s
		}
	}
	if len(read) == 0 {
		return nil
	}
	m := set.Material(kind)
	put := fmt.Sprintf("%s / (1 + %.1f × 10⁻⁶ × (%g − 20)) = %s %s", inUnit(float64(warm.read), set.Unit, 1), m.Alpha*1e6, *warm.celsius, inUnit(float64(warm.Value), set.Unit, 1), set.Unit.Name)
	return &views.WorkedStep{Text: string(kind) + " at 20 °C", Equation: "d / (1 + α (T − 20))", Numbers: put + fmt.Sprintf(", and so on; read at %s; α %.1f × 10⁻⁶ per K, %s; T is taken as known to ± %d °C. The gauge is taken to have been set at 20 °C; a reading without a temperature stands as it was read", strings.Join(read, " and "), m.Alpha*1e6, m.Name, temperatureU),
		Source: "ISO 1 for 20 °C; " + m.Source}
}
