package server

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
)

// hall is a hangar with a network and a clock that a test sets.
type hall struct {
	mu   sync.Mutex
	n    Network
	err  error
	time time.Time
}

func (h *hall) look() (Network, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.n, h.err
}

func (h *hall) now() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.time
}

func (h *hall) set(change func(h *hall)) {
	h.mu.Lock()
	defer h.mu.Unlock()
	change(h)
}

// network is a computer with addresses on cards: "192.168.1.5 wlan0".
func network(t testing.TB, host string, addresses ...string) Network {
	t.Helper()
	n := Network{Host: host}
	for _, a := range addresses {
		number, card, _ := strings.Cut(a, " ")
		n.Addresses = append(n.Addresses, Address{must[netip.Addr](t)(netip.ParseAddr(number)), card})
	}
	return n
}

func (h *hall) lan(t testing.TB, log io.Writer) *LAN {
	t.Helper()
	a, _ := madeAuthority(t)
	l := must[*LAN](t)(NewLAN(a, h.look, h.now, slog.New(slog.NewTextHandler(log, nil))))
	l.Listening("8443", "8444")
	return l
}

// visit serves a handler over TLS with the LAN's certificate, and returns a
// client that trusts only its authority and reaches that server whatever the
// address says.
func (l *LAN) visit(t testing.TB, h http.Handler) *http.Client {
	t.Helper()
	return l.client(t, l.listen(t, h), true)
}

// listen serves a handler over TLS and returns its address. StartTLS would show
// a certificate of its own to who asks for no name.
func (l *LAN) listen(t testing.TB, h http.Handler) string {
	web := httptest.NewUnstartedServer(h)
	at := web.Listener.Addr().String()
	web.Listener = tls.NewListener(web.Listener, l.TLS())
	web.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelDebug)
	web.Start()
	t.Cleanup(web.Close)
	return at
}

func (l *LAN) client(t testing.TB, at string, trusting bool) *http.Client {
	roots := x509.NewCertPool()
	if trusting {
		roots.AddCert(l.authority.cert)
	}
	wire := &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: roots, Time: l.now},
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			var d net.Dialer
			return d.DialContext(ctx, "tcp", at)
		},
	}
	t.Cleanup(wire.CloseIdleConnections)
	return &http.Client{Transport: wire, Jar: must[*cookiejar.Jar](t)(cookiejar.New(nil)), CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// fetch asks for a page and returns its status, what it says and the serial number of
// the certificate that was shown.
func fetch(t testing.TB, c *http.Client, address string) (status int, page, serial string) {
	t.Helper()
	resp := must[*http.Response](t)(c.Get(address))
	defer resp.Body.Close()
	return resp.StatusCode, string(must[[]byte](t)(io.ReadAll(resp.Body))), resp.TLS.PeerCertificates[0].SerialNumber.String()
}

// TestLANClients: a client that trusts only the authority reaches the book by
// address and by name, one that does not is told so, and old TLS is refused.
func TestLANClients(t *testing.T) {
	h := &hall{n: network(t, "hangar", "192.168.1.5 wlan0", "10.0.0.7 eth0", "fd12::7 eth0", "fe80::7%eth0 eth0"), time: opened}
	l := h.lan(t, io.Discard)
	s, here, lan := onNetwork(t, l)
	s.OnLAN(l)
	c := l.visit(t, lan)
	for _, host := range []string{"192.168.1.5", "10.0.0.7:8443", "[fd12::7]", "[fe80::7]", "hangar.local", "HANGAR.local:8443", "127.0.0.1"} {
		if status, page, _ := fetch(t, c, "https://"+host+"/"); status != 200 || !strings.Contains(page, "R-1") {
			t.Errorf("%s: status %d", host, status)
		}
	}
	var unnamed x509.HostnameError
	if _, err := c.Get("https://192.168.1.6/"); !errors.As(err, &unnamed) {
		t.Errorf("an address that is not ours: %v", err)
	}
	at := l.listen(t, lan)
	var unknown x509.UnknownAuthorityError
	if _, err := l.client(t, at, false).Get("https://192.168.1.5/"); !errors.As(err, &unknown) {
		t.Errorf("a client that does not trust: %v", err)
	}
	old := l.client(t, at, true)
	tooOld := old.Transport.(*http.Transport).TLSClientConfig
	tooOld.MinVersion, tooOld.MaxVersion = tls.VersionTLS10, tls.VersionTLS11
	if _, err := old.Get("https://192.168.1.5/"); err == nil || !strings.Contains(err.Error(), "protocol version") {
		t.Errorf("TLS 1.1: %v", err)
	}
	for _, version := range []uint16{tls.VersionTLS12, tls.VersionTLS13} {
		only := l.client(t, at, true)
		with := only.Transport.(*http.Transport).TLSClientConfig
		with.MinVersion, with.MaxVersion = version, version
		if _, err := only.Get("https://192.168.1.5/"); err != nil {
			t.Errorf("%s: %v", tls.VersionName(version), err)
		}
	}
	if set := l.TLS(); set.CipherSuites != nil || set.CurvePreferences != nil {
		t.Errorf("ciphers are not those that Go chooses: %v, %v", set.CipherSuites, set.CurvePreferences)
	}
	testCookie(t, c, here)
}

// onNetwork serves a filled book on this machine and on the network, to
// somebody who is signed in.
func onNetwork(t *testing.T, l *LAN) (s *testServer, here, lan http.Handler) {
	t.Helper()
	b := fill(t)
	s, _ = serverOn(t, b.Book)
	person := addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic})
	cookie := must[*http.Cookie](t)(s.SignedIn(t.Context(), person, "localhost"))
	return s, signedIn{s.mux, cookie.Value}, signedIn{s.HandlerFor(l.Knows).(*chi.Mux), cookie.Value}
}

// testCookie: a cookie that was set over TLS is not sent without it.
func testCookie(t *testing.T, c *http.Client, here http.Handler) {
	t.Helper()
	form := url.Values{"kind": {"pin"}, "serial": {"N-77"}, "source": {"new"}}
	resp := must[*http.Response](t)(c.PostForm("https://hangar.local/parts", form))
	resp.Body.Close()
	if cookies := resp.Cookies(); resp.StatusCode != http.StatusSeeOther || len(cookies) == 0 || !cookies[0].Secure || !cookies[0].HttpOnly {
		t.Errorf("over TLS: status %d, cookies %v", resp.StatusCode, cookies)
	}
	form.Set("serial", "N-78")
	if cookies := post(here, "/parts", form).Result().Cookies(); len(cookies) == 0 || cookies[0].Secure || strings.HasPrefix(cookies[0].Name, "__") {
		t.Errorf("on this machine: cookies %v", cookies)
	}
}

// TestLANHosts: the names of the network count on the LAN listener only, and
// no foreign name on either, so that no page elsewhere can have its name point
// here (DNS rebinding).
func TestLANHosts(t *testing.T) {
	h := &hall{n: network(t, "hangar", "192.168.1.5 wlan0", "fe80::7%wlan0 wlan0"), time: opened}
	l := h.lan(t, io.Discard)
	_, here, lan := onNetwork(t, l)
	for _, c := range []struct {
		host      string
		here, lan int
	}{
		{"localhost:8440", 200, 421}, {"127.0.0.1", 200, 200}, {"192.168.1.5:8443", 421, 200}, {"hangar.local", 421, 200}, {"Hangar.Local.:8443", 421, 200}, {"[fe80::7]:8443", 421, 200},
		{"elsewhere.example", 421, 421}, {"hangar.local.elsewhere.example", 421, 421}, {"hangar", 421, 421}, {"local", 421, 421}, {".local", 421, 421}, {"192.168.1.6", 421, 421}, {"0.0.0.0", 421, 421}, {"", 421, 421},
	} {
		for what, side := range map[string]struct {
			h      http.Handler
			status int
		}{"this machine": {here, c.here}, "the LAN": {lan, c.lan}} {
			r := httptest.NewRequest(http.MethodGet, "/", nil)
			r.Host = c.host
			w := httptest.NewRecorder()
			side.h.ServeHTTP(w, r)
			if w.Code != side.status {
				t.Errorf("host %q on %s: status %d, want %d", c.host, what, w.Code, side.status)
			}
		}
	}
	if (&LAN{}).Knows("") || (&LAN{}).Knows(".local") {
		t.Error("a computer without a name answers for none")
	}
}

// TestLANRenewal: the certificate is made anew when it nears its end, while who
// is connected stays so and who comes anew sees the new one.
func TestLANRenewal(t *testing.T) {
	h := &hall{n: network(t, "hangar", "192.168.1.5 wlan0"), time: opened}
	l := h.lan(t, io.Discard)
	answer := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "ok") })
	stays, comes := l.visit(t, answer), l.visit(t, answer)
	_, _, first := fetch(t, stays, "https://hangar.local/")
	for _, c := range []struct {
		days int
		anew bool
	}{{1, false}, {365, false}, {368, true}, {-30, true}} { // the last: the clock was set back
		_, _, before := fetch(t, comes, "https://hangar.local/")
		h.set(func(h *hall) { h.time = opened.AddDate(0, 0, c.days) })
		if c.days < 0 {
			h.set(func(h *hall) { h.time = opened.Add(-time.Hour) })
		}
		ok(t, l.Refresh())
		comes.CloseIdleConnections()
		_, _, after := fetch(t, comes, "https://hangar.local/")
		if (before != after) != c.anew {
			t.Errorf("after %d days: a new certificate %t, want %t", c.days, before != after, c.anew)
		}
		if _, page, serial := fetch(t, stays, "https://hangar.local/"); page != "ok" || serial != first {
			t.Errorf("after %d days the one connected gets %q from certificate %s", c.days, page, serial)
		}
	}
}

// TestLANWatch: a changed address, a second card, a new host name, a network
// that goes and comes: each is noticed, and the name answered for anew.
func TestLANWatch(t *testing.T) {
	h := &hall{n: network(t, "hangar"), time: opened}
	var logged strings.Builder
	l := h.lan(t, &logged)
	tick, told := make(chan time.Time), make(chan bool)
	var mu sync.Mutex
	var answered []string
	stops := 0
	answer := func(_ context.Context, n Network) (NameState, func()) {
		mu.Lock()
		defer mu.Unlock()
		answered = append(answered, n.Name())
		return NameByUs, func() { mu.Lock(); stops++; mu.Unlock() }
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { l.Watch(ctx, tick, answer, func(moved bool) { told <- moved }); close(ended) }()
	if <-told || len(l.Trust().Offers()) != 0 || l.Trust().Named() {
		t.Error("without a network it has moved, or offers something")
	}
	for _, c := range []struct {
		n      Network
		offers string
	}{
		{network(t, "hangar", "192.168.1.5 wlan0"), "192.168.1.5 hangar.local"},
		{network(t, "hangar", "10.1.1.9 wlan0"), "10.1.1.9 hangar.local"},
		{network(t, "hangar", "10.1.1.9 wlan0", "192.168.7.2 eth0", "fe80::7%eth0 eth0"), "10.1.1.9 192.168.7.2 hangar.local"},
		{network(t, "shop", "10.1.1.9 wlan0"), "10.1.1.9 shop.local"},
		{network(t, "shop", "fe80::7%eth0 eth0"), "shop.local"},
		{network(t, "", "10.1.1.9 wlan0"), "10.1.1.9"},
		{network(t, "shop"), ""},
	} {
		h.set(func(h *hall) { h.n = c.n })
		tick <- time.Time{}
		if !<-told {
			t.Errorf("%v: it has not moved", c.n)
		}
		var at []string
		for _, o := range l.Trust().Offers() {
			at = append(at, o.At)
		}
		if got := strings.Join(at, " "); got != c.offers {
			t.Errorf("%v: it offers %q, want %q", c.n, got, c.offers)
		}
		leaf := must[*tls.Certificate](t)(l.certificate(&tls.ClientHelloInfo{}))
		for _, a := range append(c.n.Addresses, Address{netip.MustParseAddr("::1"), ""}) {
			if err := verify(l.authority, leaf, a.WithZone("").String(), opened); err != nil {
				t.Errorf("%v: %v", c.n, err)
			}
		}
		if len(leaf.Leaf.DNSNames) > 1 || c.n.Host != "" && leaf.Leaf.DNSNames[0] != c.n.Name() {
			t.Errorf("%v: names %q", c.n, leaf.Leaf.DNSNames)
		}
	}
	tick <- time.Time{} // nothing has changed: nothing is told
	h.set(func(h *hall) { h.err = errors.New("no list of cards"); h.n = network(t, "other") })
	for range 3 {
		tick <- time.Time{}
	}
	cancel()
	<-ended
	if l.Network().Host != "shop" || strings.Count(logged.String(), "no list of cards") != 1 {
		t.Errorf("after cards that cannot be listed: host %q, log %s", l.Network().Host, logged.String())
	}
	if want := []string{"hangar.local", "hangar.local", "hangar.local", "shop.local", "shop.local"}; !slices.Equal(answered, want) || stops != len(want) {
		t.Errorf("answered for %q, stopped %d times", answered, stops)
	}
}

// ended is an end of a connection.
type ended struct {
	net.Conn
	at string
}

func (e ended) LocalAddr() net.Addr { return net.TCPAddrFromAddrPort(netip.MustParseAddrPort(e.at)) }

// TestLANFirstCome: who connects to a new address before the next look gets a
// certificate for it.
func TestLANFirstCome(t *testing.T) {
	looks := 0
	h := &hall{n: network(t, "hangar", "192.168.1.5 wlan0"), time: opened}
	l := h.lan(t, io.Discard)
	look := l.look
	l.look = func() (Network, error) { looks++; return look() }
	h.set(func(h *hall) { h.n = network(t, "hangar", "192.168.1.9 wlan0") })
	for _, c := range []struct {
		at    string
		looks int
	}{{"192.168.1.5:8443", 0}, {"127.0.0.1:8443", 0}, {"203.0.113.4:8443", 0}, {"192.168.1.9:8443", 1}, {"[::ffff:192.168.1.9]:8443", 1}} {
		leaf := must[*tls.Certificate](t)(l.certificate(&tls.ClientHelloInfo{Conn: ended{at: c.at}}))
		if looks != c.looks {
			t.Errorf("%s: it looked %d times, want %d", c.at, looks, c.looks)
		}
		if err := verify(l.authority, leaf, "192.168.1.9", opened); (err == nil) != (c.looks > 0) {
			t.Errorf("%s: %v", c.at, err)
		}
	}
}

// TestLANAuthorityEnds: near the authority's end a certificate ends with it and
// is not made anew for nothing; after it the old one stays and the log says why, once.
func TestLANAuthorityEnds(t *testing.T) {
	h := &hall{n: network(t, "hangar", "192.168.1.5 wlan0"), time: opened}
	var logged strings.Builder
	l := h.lan(t, &logged)
	end := l.authority.cert.NotAfter
	var serials []string
	for _, at := range []time.Time{end.AddDate(0, 0, -20), end.AddDate(0, 0, -10), end.AddDate(0, 0, 1)} {
		h.set(func(h *hall) { h.time = at })
		if err := l.Refresh(); errors.Is(err, ErrAuthorityEnded) != at.After(end) {
			t.Errorf("%s: %v", at, err)
		}
		serials = append(serials, must[*tls.Certificate](t)(l.certificate(&tls.ClientHelloInfo{})).Leaf.SerialNumber.String())
	}
	if serials[0] != serials[1] || serials[1] != serials[2] {
		t.Errorf("certificates %q", serials)
	}
	if _, err := NewLAN(l.authority, h.look, h.now, l.log); !errors.Is(err, ErrAuthorityEnded) {
		t.Errorf("a start after the end: %v", err)
	}
}

func TestUsableAddresses(t *testing.T) {
	n := network(t, "", "fe80::1%eth0 eth0", "172.17.0.1 docker0", "203.0.113.5 eth1", "169.254.9.9 eth2", "2001:db8::5 eth0", "fd00::5 eth0", "127.0.0.1 lo", "192.168.1.5 wlan0", "10.8.0.2 tun0")
	var got []string
	for _, a := range usable(n.Addresses) {
		got = append(got, a.String())
	}
	if want := strings.Fields("192.168.1.5 fd00::5 169.254.9.9 fe80::1%eth0 172.17.0.1 10.8.0.2"); !slices.Equal(got, want) {
		t.Errorf("usable are %q, want %q", got, want)
	}
	for name, want := range map[string]string{"Hangar-2.shop.example": "hangar-2", "localhost": "", "localhost.localdomain": "", "bob's laptop": "", "-x": "", "": "", strings.Repeat("x", 64): "", "werkstatt_1": ""} {
		if got := hostLabel(name); got != want {
			t.Errorf("host %q is called %q, want %q", name, got, want)
		}
	}
	if _, err := LookNetwork(); err != nil {
		t.Error(err)
	}
}
