package server

import (
	"bytes"
	"encoding/pem"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"barrelbook/store"
)

// TestTrustPage: the page about trust serves the certificate, its fingerprint
// and the steps, to who comes to an address of ours to read, and nothing else.
func TestTrustPage(t *testing.T) {
	at := &hall{n: network(t, "hangar", "192.168.1.5 wlan0"), time: opened}
	l := at.lan(t, io.Discard)
	h := TrustHandler(l, slog.New(slog.DiscardHandler))
	page := []string{"Get the certificate", "https://192.168.1.5:8443", "iPhone and iPad", "Switch on full trust", "CA certificate", "Windows", "macOS", "Linux", "from memory", "cannot work offline", "Barrelbook hangar"}
	page = append(page, strings.Join(Fingerprint(l.authority.cert)[:2], " "))
	for _, c := range []struct {
		method, host, path string
		status             int
		says               []string
	}{
		{"GET", "192.168.1.5:8444", "/", 200, page},
		{"HEAD", "192.168.1.5:8444", "/", 200, nil},
		{"GET", "hangar.local:8444", "/", 200, page},
		{"GET", "192.168.1.5:8444", derPath, 200, nil},
		{"GET", "192.168.1.5:8444", pemPath, 200, []string{"BEGIN CERTIFICATE"}},
		{"GET", "192.168.1.5:8444", "/static/base.css", 200, nil},
		{"GET", "192.168.1.5:8444", "/static/form.css", 200, nil},
		{"GET", "elsewhere.example", "/", 421, nil},
		{"GET", "192.168.1.6:8444", derPath, 421, nil},
		{"POST", "192.168.1.5:8444", "/", 405, nil},
		{"PUT", "192.168.1.5:8444", derPath, 405, nil},
		{"OPTIONS", "192.168.1.5:8444", "/", 405, nil},
		{"GET", "192.168.1.5:8444", "/parts", 404, nil},
		{"GET", "192.168.1.5:8444", "/static/measure.js", 404, nil},
		{"GET", "192.168.1.5:8444", "/static/", 404, nil},
		{"GET", "192.168.1.5:8444", "/authority.key", 404, nil},
		{"GET", "192.168.1.5:8444", "/health", 404, nil},
	} {
		r := httptest.NewRequest(c.method, c.path, nil)
		r.Host = c.host
		r.Header.Set("Origin", "http://elsewhere.example")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		check(t, c.method+" "+c.host+c.path, w, c.status, c.says, []string{"PRIVATE KEY", "<script", "R-1"})
		if w.Header().Get("Set-Cookie") != "" || w.Header().Get("Strict-Transport-Security") != "" || letsIn(w) {
			t.Errorf("%s sets a cookie, promises encryption, or lets another site read it: %v", c.path, w.Header())
		}
		if csp := w.Header().Get("Content-Security-Policy"); c.status != 421 && !strings.HasPrefix(csp, "default-src 'none'") {
			t.Errorf("%s: policy %q", c.path, csp)
		}
	}
	for path, kind := range map[string]string{"/": "text/html; charset=utf-8", derPath: "application/x-x509-ca-cert", pemPath: "application/x-pem-file"} {
		r := httptest.NewRequest(http.MethodGet, path, nil)
		r.Host = "hangar.local"
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if got := w.Header().Get("Content-Type"); got != kind {
			t.Errorf("%s is %q, want %q", path, got, kind)
		}
		der := w.Body.Bytes()
		if block, _ := pem.Decode(der); block != nil {
			der = block.Bytes
		}
		if path != "/" && !bytes.Equal(der, l.authority.cert.Raw) {
			t.Errorf("%s is not the authority's certificate", path)
		}
	}
}

// TestTabletsPage: what the page says without -lan, without a network, with
// one and with two, and of each fate of the name.
func TestTabletsPage(t *testing.T) {
	at := &hall{n: network(t, "hangar"), time: opened}
	l := at.lan(t, io.Discard)
	aloneBook, servedBook := emptyBook(t), emptyBook(t)
	aloneServer, _ := serverOn(t, aloneBook)
	servedServer, _ := serverOn(t, servedBook)
	servedServer.OnLAN(l)
	owner := store.Person{Name: "A. Owner", Roles: store.Owner}
	alone, served := aloneServer.as(t, addPerson(t, aloneBook, owner)), servedServer.as(t, addPerson(t, servedBook, owner))
	first := Fingerprint(l.authority.cert)[0]
	check(t, "without -lan", get(alone, "/tablets"), 200, []string{"barrelbook serve -lan", `aria-current="page"`}, []string{"<svg class=\"qr\"", first})
	check(t, "without a network", get(served, "/tablets"), 200, []string{"no network", first, "2036-03-14"}, []string{`class="qr"`})
	at.set(func(h *hall) { h.n = network(t, "hangar", "192.168.1.5 wlan0") })
	ok(t, l.Refresh())
	check(t, "with a network", get(served, "/tablets"), 200, []string{`class="qr"`, "http://192.168.1.5:8444", "https://192.168.1.5:8443", first, "cannot work offline", "Nobody on this network answers for the name hangar.local"}, []string{"Other addresses", "ends soon"})
	at.set(func(h *hall) { h.n = network(t, "hangar", "192.168.1.5 wlan0", "10.0.0.7 eth0", "fe80::7%eth0 eth0") })
	ok(t, l.Refresh())
	check(t, "with two cards", get(served, "/tablets"), 200, []string{"QR code of http://192.168.1.5:8444", "Other addresses", "eth0", "/tablets?at=10.0.0.7"}, []string{"fe80"})
	check(t, "at the second", get(served, "/tablets?at=10.0.0.7"), 200, []string{"QR code of http://10.0.0.7:8444", "/tablets?at=192.168.1.5"}, nil)
	check(t, "at another", get(served, "/tablets?at=8.8.8.8"), 200, []string{"QR code of http://192.168.1.5:8444"}, []string{"https://8.8.8.8"})
	for state, says := range map[NameState]string{NameBySystem: "https://hangar.local:8443", NameByUs: "https://hangar.local:8443", NameTaken: "Another computer on this network is called hangar.local"} {
		l.name = state
		check(t, says, get(served, "/tablets"), 200, []string{says}, nil)
	}
	at.set(func(h *hall) {
		h.n, h.time = network(t, "", "192.168.1.5 wlan0"), l.authority.cert.NotAfter.AddDate(0, 0, -30)
	})
	ok(t, l.Refresh())
	check(t, "near its end", get(served, "/tablets"), 200, []string{"ends soon", ".authority", "no name that a browser takes"}, nil)
}
