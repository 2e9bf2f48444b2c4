package server

import (
	"fmt"
	"net/http"
	"testing"
)

// TestOtherAcknowledged: a leak test beyond its rule is counted beside what wears
// fast, and no more once somebody has acknowledged it, on every page alike.
func TestOtherAcknowledged(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	path := fmt.Sprintf("/findings/leak/%d/acknowledge", b.cylinders[1])
	counts := func(what string, n int) {
		t.Helper()
		open := fmt.Sprintf("%d open", n)
		check(t, what+", fleet", get(h, "/"), 200, []string{open}, nil)
		check(t, what+", engine", get(h, fmt.Sprint("/engines/", b.engine.ID)), 200, []string{open}, nil)
	}
	counts("before", 3)
	check(t, "listed", get(h, "/findings"), 200, []string{"Leak tests beyond the rule (2)", path}, nil)
	check(t, "form", get(h, path), 200, []string{"C-2", "comes back when a later test beyond the rule loses more"}, nil)
	check(t, "no reason", post(h, path, formOf("reason=", "who=A. Typed")), 422, []string{"say why this can wait", "A. Typed"}, nil)
	if w := post(h, path, formOf("reason=lapped at the next check", "who=A. Smith")); w.Code != http.StatusSeeOther {
		t.Fatalf("saved with status %d", w.Code)
	}
	counts("after", 2)
	check(t, "rests", get(h, "/findings"), 200, []string{"Acknowledged (1)", "Leak tests beyond the rule (1)", "lapped at the next check"}, []string{path})
	for _, path := range []string{"/findings/leak/999/acknowledge", "/findings/oil/1/acknowledge", fmt.Sprintf("/findings/engine/%d/acknowledge?feature=1&groove=0", b.engine.ID), fmt.Sprintf("/findings/ring/%d/acknowledge", b.ring)} {
		if w := get(h, path); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}
