package static

import (
	"io/fs"
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

// onPurpose are the words of TestScripts that a script has all the same, each
// with the reason.
var onPurpose = map[string]string{
	"waiting.js DOMParser": "reads the title of a kept page, of which only the text is taken",
}

// TestScripts: what the book and people say is put into a page as text, no
// script is made of data (OWASP ASVS 5, 3.2.2), and nothing stands between a
// password manager, or who pastes, and a field (6.2.7).
func TestScripts(t *testing.T) {
	markup := regexp.MustCompile(`innerHTML|outerHTML|insertAdjacentHTML|setHTML|parseHTML|document\.write|createContextualFragment|DOMParser|srcdoc|\beval\b|\bFunction\b|\bimport\(|javascript:|set(?:Timeout|Interval)\(["'` + "`" + `]|setAttribute\(["']on`)
	pasting := regexp.MustCompile(`(?i)paste|beforeinput|clipboardData|insertFrom`)
	names, err := fs.Glob(FS, "*.js")
	if err != nil || len(names) < 10 {
		t.Fatalf("%d scripts (%v)", len(names), err)
	}
	met := map[string]bool{}
	for _, name := range names {
		text, err := FS.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for n, line := range strings.Split(string(text), "\n") {
			for _, word := range append(markup.FindAllString(line, -1), pasting.FindAllString(line, -1)...) {
				if met[name+" "+word] = true; onPurpose[name+" "+word] == "" {
					t.Errorf("%s:%d has %s: put text into a page with textContent or append, and leave what is pasted alone", name, n+1, word)
				}
			}
		}
	}
	for word := range onPurpose {
		if !met[word] {
			t.Errorf("%s is not there any more", word)
		}
	}
}
