package views

import "testing"

// The words name the one angle at which to stop: true top dead centre where it
// is known. The angles are invented; only the words are looked at.
func TestTurningNamesWhereToStop(t *testing.T) {
	for want, l := range map[string]JobLine{
		"Turn the crank forward and stop at 35.3°, its true top dead centre (nominal: 40.0° on, at 40.0°).": {Turn: "40.0°", To: "40.0°", True: "35.3°"},
		"Turn the crank 40.0° forward, to 40.0°.":                                                           {Turn: "40.0°", To: "40.0°"},
		"No turn: its piston is at top dead centre, truly 35.3° (nominal 40.0°).":                           {Turn: "0.0°", To: "40.0°", True: "35.3°"},
		"Bring its piston to top dead centre, either stroke.":                                               {},
	} {
		if got := l.turning(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
