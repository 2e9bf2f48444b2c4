package main

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"path/filepath"
	"testing"
	"time"

	"barrelbook/server"
)

// TestTabletsLook looks at the page with the code, on a network with two
// cards, and at the page about trust that the code opens.
func TestTabletsLook(t *testing.T) {
	log := slog.New(slog.NewTextHandler(&failing{t}, nil))
	authority, err := server.OpenAuthority(filepath.Join(t.TempDir(), "authority"), "hangar", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	look := func() (server.Network, error) {
		return server.Network{Host: "hangar", Addresses: []server.Address{{Addr: netip.MustParseAddr("192.168.1.5"), Card: "wlan0"}, {Addr: netip.MustParseAddr("fd12:3456:789a:bcde::1234"), Card: "eth0"}}}, nil
	}
	lan, err := server.NewLAN(authority, look, time.Now, log)
	if err != nil {
		t.Fatal(err)
	}
	lan.Listening("8443", "8444")
	answers := server.New(temporaryBook(t), log)
	answers.OnLAN(lan)
	for name, c := range map[string]struct {
		h    http.Handler
		path string
	}{"tablets-on": {answers.Handler(), "/tablets"}, "trust": {server.TrustHandler(lan, log), "/"}} {
		web := httptest.NewServer(c.h)
		t.Cleanup(web.Close)
		tab := openTab(t, web.URL)
		tab.open(c.path)
		for _, width := range []int64{360, 768, 1366} {
			tab.do(emulateScreen(width, "light"))
			for _, fault := range eval[[]string](tab, lookFaults) {
				t.Errorf("%s at %d px: %s", name, width, fault)
			}
		}
		tab.draw(name)
	}
	if err := answers.Close(); err != nil {
		t.Error(err)
	}
}
