package static

import (
	"regexp"
	"slices"
	"strings"
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

// TestAddresses: a tablet keeps every style sheet, script and icon at the
// address that a page asks for, and what a script imports lies beside it.
func TestAddresses(t *testing.T) {
	all := Addresses()
	for _, want := range []string{URL("base.css"), Module("measure.js"), URL("app.webmanifest"), URL("icon-192.png")} {
		if !slices.Contains(all, want) {
			t.Errorf("%s is not among %q", want, all)
		}
	}
	imported := regexp.MustCompile(`from "\./([a-z]+\.js)"`)
	for _, address := range all {
		name, module := strings.CutPrefix(address, "/static/"+Build()+"/")
		if !module {
			continue
		}
		text, err := FS.ReadFile(name)
		if err != nil {
			t.Error(err)
		}
		for _, m := range imported.FindAllStringSubmatch(string(text), -1) {
			if !slices.Contains(all, Module(m[1])) {
				t.Errorf("%s imports %s, which is not kept", name, m[1])
			}
		}
	}
}
