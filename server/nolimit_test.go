package server

import "testing"

// TestMeasuredWithoutLimit: what was measured and has no limit is not called
// "not measured".
func TestMeasuredWithoutLimit(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	for at, want := range map[string]string{
		href("/engines/", b.engine.ID, "/positions/", 1): "axial width 0.0930 in at 20 °C none typed no limit",
		href("/parts/", b.ring):                          "no limit",
	} {
		if w := get(h, at); w.Code != 200 || !containsAll(text(w.Body.String()), []string{want}) {
			t.Errorf("%s: %d does not say %q: %s", at, w.Code, want, text(w.Body.String()))
		}
	}
	if says := text(get(h, href("/parts/", b.ring)).Body.String()); containsAll(says, []string{"not measured"}) {
		t.Errorf("a measured ring is called not measured: %s", says)
	}
}
