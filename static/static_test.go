package static

import (
	"regexp"
	"testing"
)

func TestURL(t *testing.T) {
	got := URL("base.css")
	if !regexp.MustCompile(`^/static/base\.css\?v=[0-9a-f]{8}$`).MatchString(got) {
		t.Errorf("URL of base.css is %q, want /static/base.css?v= and eight hexadecimal digits", got)
	}
	if again := URL("base.css"); again != got {
		t.Errorf("URL of base.css is first %q, then %q", got, again)
	}
	if other := URL("read.css"); other[len(other)-8:] == got[len(got)-8:] {
		t.Errorf("two files share the version %q", got[len(got)-8:])
	}
	if got, want := URL("gone.css"), "/static/gone.css"; got != want {
		t.Errorf("URL of a file that is not there is %q, want %q", got, want)
	}
}
