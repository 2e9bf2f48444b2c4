package server

import (
	"net"
	"net/http"
	"strings"
)

// permissions of the pages: the camera for photographs, nothing else.
const permissions = "camera=(self), accelerometer=(), autoplay=(), bluetooth=(), display-capture=(), geolocation=(), gyroscope=(), hid=(), magnetometer=(), microphone=(), midi=(), payment=(), serial=(), usb=()"

// secure sets the headers of every answer. Source: OWASP Secure Headers
// Project. There is no Strict-Transport-Security: it does not count for IP
// addresses (RFC 6797, 8.1.1), by which tablets come, and for the computer's
// name it would hold for every port (8.3), so for the page about trust and for
// whatever else the shop's laptop serves. Each tablet that does not trust the
// authority yet would lose its way past the browser's warning, too.
func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Permissions-Policy", permissions)
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		next.ServeHTTP(w, r)
	})
}

// Hosts reports whether a host, as a browser names it and without its port,
// is one that this program answers for.
type Hosts func(host string) bool

// ThisMachine are the names that lead nowhere but here.
func ThisMachine(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// onlyHosts answers only requests that were meant for the hosts, so that no
// outside page can reach the book by a name of its own.
func onlyHosts(hosts Hosts, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		if !hosts(strings.Trim(host, "[]")) {
			http.Error(w, "this program does not answer for that name", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// limitBody bounds what is read of a request. Only files come in more than a
// form's size, for they are not kept in memory as its fields are.
func limitBody(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		most := int64(largestForm)
		switch {
		case r.URL.Path == "/sign-in":
			most = 2 * largestForm // with a form that waited
		case !isUpload(r):
		case r.URL.Path == "/import":
			most = largestUpload
		case strings.HasSuffix(r.URL.Path, "/photos"):
			most = largestPhotos
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

// isUpload reports whether a form comes in parts, as one with files does.
func isUpload(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/")
}
