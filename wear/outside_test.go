package wear

import (
	"strings"
	"testing"
)

// TestOutside: sizes that cannot be meant for a feature. Sizes of parts that
// are: common practice, no source.
func TestOutside(t *testing.T) {
	for _, c := range []struct {
		kind       Kind
		name, text string
		unit       Unit
		meant      bool
	}{
		{Cylinder, "barrel bore", "5.1870", Inch, true}, {Cylinder, "barrel bore", "5187.0", Inch, false}, {Cylinder, "barrel bore", "131.75", Inch, false}, {Cylinder, "barrel bore", "0.131", Millimetre, false},
		{Piston, "piston skirt", "5.17", Inch, true}, {Piston, "groove width", "0.0950", Inch, true}, {Piston, "groove width", "9.5", Inch, false},
		{Piston, "side clearance", "-0.001", Inch, true}, {Piston, "side clearance", "6", Inch, false}, {Piston, "skirt clearance", "0.012", Inch, true},
		{Ring, "end gap", "0.030", Inch, true}, {Ring, "end gap", "30", Inch, false}, {Ring, "tangential force", "12.5", PoundForce, true}, {Ring, "tangential force", "1250", Newton, false},
		{Pin, "pin diameter", "1.1246", Inch, true}, {Pin, "pin diameter", "1124", Inch, false}, {Pin, "weight", "340", Gram, true}, {Cylinder, "weight", "51000", Gram, false},
	} {
		v, err := ParseValue(c.text, c.unit)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range BuiltIn {
			f.BuiltIn = true
			if f.Kind != c.kind || f.Name != c.name {
				continue
			}
			if said := f.Outside(v, c.unit); (said == "") != c.meant || said != "" && !strings.Contains(said, "decimal point") {
				t.Errorf("%s %s of %s %s: %q", c.name, c.text, c.unit.Name, c.kind, said)
			}
			f.BuiltIn = false
			if said := f.Outside(v, c.unit); said != "" {
				t.Errorf("a shop's own feature: %q", said)
			}
		}
	}
}
