package views

import "testing"

// What is flagged is never folded away.
func TestWholeShown(t *testing.T) {
	normal, flagged := WholeWear{State: "normal"}, WholeWear{State: "flagged"}
	for _, c := range []struct {
		ws   []WholeWear
		want int
	}{{nil, 3}, {[]WholeWear{normal, normal, normal, normal}, 3}, {[]WholeWear{flagged, normal, normal, normal, flagged, normal}, 5}} {
		if got := WholeShown(c.ws); got != c.want {
			t.Errorf("%d of %d stand open, want %d", got, len(c.ws), c.want)
		}
	}
}
