package server

import (
	"net/http"
	"net/url"
	"strings"
)

// backTo is where a form leads after it was saved: the page it was opened
// from, named by back in the address or in the form, where that is a page of
// this program; else "".
func backTo(r *http.Request) string {
	to := r.URL.Query().Get("back")
	if r.Method == http.MethodPost {
		to = r.PostFormValue("back")
	}
	return localPath(to)
}

// localPath is a path of this program, or "" for an address that a browser
// could take for another site's.
func localPath(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || u.Opaque != "" || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsFunc(to, func(c rune) bool { return c <= ' ' || c == '\\' || c == 0x7f }) {
		return ""
	}
	return to
}
