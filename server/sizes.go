package server

import (
	"fmt"
	"math"
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
	terms            uTerms
}

// uTerms are what a reading's standard uncertainty is made of, base units.
type uTerms struct{ gauge, operator, resolution, warmth float64 }

func termsOf(x store.Reading, c wear.Counted) uTerms {
	return uTerms{float64(x.SD), float64(x.OperatorSD), float64(x.Resolution), c.WarmthU}
}

// text writes them: "gauge 0.00020; operator not known, taken as 0; …; u 0.00021
// in".
func (t uTerms) text(celsius *float64, u wear.Unit) string {
	operator, warmth := "not known, taken as 0", "part's not taken, nothing added"
	if t.operator > 0 {
		operator = inUnit(t.operator, u, 1)
	}
	switch {
	case t.warmth > 0:
		warmth = fmt.Sprintf("d α × %d °C = %s", wear.TemperatureU, inUnit(t.warmth, u, 1))
	case celsius != nil:
		warmth = "nothing added: no size of one part"
	}
	all := math.Hypot(wear.StandardUncertainty(t.gauge, t.operator, t.resolution), t.warmth)
	return fmt.Sprintf("gauge %s; operator %s; resolution %s / √12; temperature %s: u = %s %s", inUnit(t.gauge, u, 1), operator, inUnit(t.resolution, u, 1), warmth, inUnit(all, u, 1), u.Name)
}

// uEquation is how they go together, and uSource where that is from.
const (
	uEquation = "u = √(gauge² + operator² + resolution²/12 + temperature²)"
	uSource   = "JCGM 100 (GUM) 5.1.2; resolution 4.3.7"
)

// own is what is not shared by all readings of a sheet: gauge and resolution.
func (t uTerms) own() float64 { return wear.StandardUncertainty(t.gauge, 0, t.resolution) }

// counted is what a reading counts as, which verdicts go by.
func (d *dossier) counted(x store.Reading) wear.Counted {
	return x.Counted(d.features[x.Feature], d.set.Material(d.part.Kind))
}

// sized is a reading with what it counts as.
func (d *dossier) sized(x store.Reading) size {
	c := d.counted(x)
	s := size{SpotReading: wear.SpotReading{Spot: wear.Spot{Station: x.Station, Axis: x.Axis}, Gauged: c.Gauged, Shared: math.Hypot(float64(x.OperatorSD), c.WarmthU)}, read: *x.Value, sheet: x.Sheet, bore: x.Bore, terms: termsOf(x, c)}
	if c.Carried {
		s.celsius = x.Sheet.Temperature
	}
	return s
}

// at20Text says what a reading comes to at 20 °C, where that differs in the
// digits shown: "5.1272 at 20 °C"; else "".
func (d *dossier) at20Text(x store.Reading, u wear.Unit) string {
	if x.Value == nil {
		return ""
	}
	return at20Text(x, d.counted(x), u)
}

func at20Text(x store.Reading, c wear.Counted, u wear.Unit) string {
	is := inUnit(float64(c.Value), u, 0)
	if !c.Carried || is == inUnit(float64(*x.Value), u, 0) {
		return ""
	}
	return at20(is, true)
}

// at20 marks a size that was carried to 20 °C.
func at20(text string, carried bool) string {
	if carried {
		text += " at 20 °C"
	}
	return text
}

// plain is the bare comparison of what a reading counts as with the service
// limit. Where the number as it was read compares otherwise, that stands beside
// it: the limit is not moved, and neither is the number hidden.
func (d *dossier) plain(x store.Reading, a wear.Assessment, u wear.Unit) string {
	text := plainText(a, u)
	if _, lim := d.limitsFor(x); d.counted(x).Carried {
		if read := d.features[x.Feature].Assess(*x.Value, 0, lim); read.Plain != a.Plain {
			text = joinText("; ", text, fmt.Sprintf("%s, as it was read %s", a.Plain, joinText(", ", read.Plain.String(), plainText(read, u))))
		}
	}
	return text
}

// uText is the one-sided 95 % uncertainty of what a reading counts as; "" where
// none is known.
func (d *dossier) uText(x store.Reading, u wear.Unit) string {
	c := d.counted(x)
	if c.U == 0 {
		return ""
	}
	return "± " + inUnit(wear.ExpandedU(c.U), u, 0)
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
	return &views.WorkedStep{Text: string(kind) + " at 20 °C", Equation: "d / (1 + α (T − 20))", Numbers: put + fmt.Sprintf(", and so on; read at %s; α %.1f × 10⁻⁶ per K, %s; T is taken as known to ± %d °C (one standard deviation). The gauge is taken to have been set at 20 °C; a reading without a temperature stands as it was read", strings.Join(read, ", "), m.Alpha*1e6, m.Name, wear.TemperatureU),
		Source: "ISO 1 for 20 °C; " + m.Source}
}
