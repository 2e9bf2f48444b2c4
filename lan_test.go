package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"barrelbook/server"
	"barrelbook/store"
	"barrelbook/views"
)

// running is the program, serving a book.
type running struct {
	t     *testing.T
	db    string
	home  string // the address on this machine
	out   *loud
	stop  context.CancelFunc
	ended chan error
}

// startProgram starts the program and waits until it has said all that it says first.
func startProgram(t *testing.T, args ...string) *running {
	t.Helper()
	r := &running{t: t, db: filepath.Join(t.TempDir(), "book.db"), out: &loud{}, ended: make(chan error, 1)}
	ownedBook(t, r.db)
	var ctx context.Context
	ctx, r.stop = context.WithCancel(context.Background())
	t.Cleanup(r.stop)
	args = append([]string{"serve", "-db", r.db, "-addr", "127.0.0.1:0"}, args...)
	go func() { r.ended <- run(ctx, args, r.out) }()
	r.home = r.find(`serves it at (http://127\.0\.0\.1:[1-9][0-9]*) `)
	return r
}

// ownedBook makes a book with an owner.
func ownedBook(t *testing.T, path string) {
	t.Helper()
	book, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	addOwner(t, book)
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestServeLANWithoutOwner: a book that anybody on the network could make
// theirs is not served there.
func TestServeLANWithoutOwner(t *testing.T) {
	db := filepath.Join(t.TempDir(), "book.db")
	out, err := said(t, "serve", "-db", db, "-addr", "127.0.0.1:0", "-lan", "-lan-addr", "127.0.0.1:0")
	if err == nil || !strings.Contains(err.Error(), "no owner yet") || out != "" {
		t.Errorf("%v, having said %q", err, out)
	}
}

// find waits until the program has said something.
func (r *running) find(pattern string) string {
	r.t.Helper()
	search := regexp.MustCompile(pattern)
	for deadline := time.Now().Add(30 * time.Second); ; {
		if found := search.FindStringSubmatch(r.out.String()); found != nil {
			return found[1]
		}
		select {
		case err := <-r.ended:
			r.t.Fatalf("it ended: %v\n%s", err, r.out)
		case <-time.After(10 * time.Millisecond):
		}
		if time.Now().After(deadline) {
			r.t.Fatalf("it never said %s:\n%s", pattern, r.out)
		}
	}
}

// authority is the certificate that the program keeps beside the book.
func (r *running) authority() *x509.Certificate {
	r.t.Helper()
	text, err := os.ReadFile(filepath.Join(server.AuthorityFolder(r.db), "authority.crt"))
	if err != nil {
		r.t.Fatal(err)
	}
	block, _ := pem.Decode(text)
	cert, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		r.t.Fatal(err)
	}
	return cert
}

// freePorts are two ports, one after the other, where nobody listens.
func freePorts(t *testing.T) (book, trust int) {
	t.Helper()
	for range 50 {
		one, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		book = one.Addr().(*net.TCPAddr).Port
		two, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(book+1)))
		one.Close()
		if err == nil {
			two.Close()
			return book, book + 1
		}
	}
	t.Fatal("no two free ports")
	return 0, 0
}

// TestServeLAN starts the program for tablets, reaches the book and the page
// about trust as a tablet does, asks barrelbook trust meanwhile, and stops all
// three listeners.
func TestServeLAN(t *testing.T) {
	port, trustPort := freePorts(t)
	lan := fmt.Sprintf("127.0.0.1:%d", port)
	r := startProgram(t, "-lan", "-lan-addr", lan)
	// Loopback is no network, so it waits for one and serves here meanwhile.
	if said := r.out.String(); !strings.Contains(said, "no network") || !strings.Contains(said, strconv.Itoa(port)) {
		t.Errorf("it says %s", said)
	}
	cert := r.authority()
	prints := strings.Join(server.Fingerprint(cert), " ")
	r.find("(" + prints + ")")
	roots := x509.NewCertPool()
	roots.AddCert(cert)
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true}}
	page := func(address string) (int, string) {
		resp, err := client.Get(address)
		if err != nil {
			t.Errorf("%s: %v", address, err)
			return 0, ""
		}
		defer resp.Body.Close()
		body, _ := io.ReadAll(resp.Body)
		return resp.StatusCode, string(body)
	}
	for address, says := range map[string]string{"https://" + lan + "/health": "ok", "https://" + lan + "/tablets": "A. Owner", r.home + "/tablets": "A. Owner", fmt.Sprintf("http://127.0.0.1:%d/", trustPort): prints[:19]} {
		if status, text := page(address); status != 200 || !strings.Contains(text, says) {
			t.Errorf("%s: status %d", address, status)
		}
	}
	told := says(t, "trust", "-db", r.db, "-lan-addr", lan)
	for _, w := range []string{prints[:19], "It ends on " + cert.NotAfter.UTC().Format(time.DateOnly), "Certificate Trust Settings", "cannot work offline", "no network"} {
		if !strings.Contains(told, w) {
			t.Errorf("trust does not say %q:\n%s", w, told)
		}
	}
	other := filepath.Join(t.TempDir(), "other.db")
	ownedBook(t, other)
	if _, err := said(t, "serve", "-db", other, "-addr", "127.0.0.1:0", "-lan", "-lan-addr", lan); err == nil || !strings.Contains(err.Error(), lan) {
		t.Errorf("a second program on the same port: %v", err)
	}
	r.stop()
	if err := <-r.ended; err != nil {
		t.Errorf("it ended with %v", err)
	}
	for _, at := range []string{lan, fmt.Sprintf("127.0.0.1:%d", trustPort), strings.TrimPrefix(r.home, "http://")} {
		if conn, err := net.Dial("tcp", at); err == nil {
			conn.Close()
			t.Errorf("%s is listened on after the stop", at)
		}
	}
}

// TestServeHere: without -lan nothing listens but this machine, and no
// authority is made.
func TestServeHere(t *testing.T) {
	r := startProgram(t)
	_, port, err := net.SplitHostPort(strings.TrimPrefix(r.home, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		prefix, err := netip.ParsePrefix(a.String())
		if err != nil || prefix.Addr().IsLoopback() || prefix.Addr().IsLinkLocalUnicast() {
			continue
		}
		if conn, err := net.Dial("tcp", net.JoinHostPort(prefix.Addr().String(), port)); err == nil {
			conn.Close()
			t.Errorf("it is reached at %s", prefix.Addr())
		}
	}
	if _, err := os.Stat(server.AuthorityFolder(r.db)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("an authority: %v", err)
	}
	if _, err := said(t, "trust", "-db", r.db); !errors.Is(err, server.ErrNoAuthority) || !strings.Contains(err.Error(), "serve -lan") {
		t.Errorf("trust without an authority: %v", err)
	}
	r.stop()
	if err := <-r.ended; err != nil {
		t.Error(err)
	}
}

// TestServeDamagedAuthority: the program does not start for tablets with a key
// that is not the certificate's, says what can be done and changes nothing.
func TestServeDamagedAuthority(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "book.db")
	ownedBook(t, db)
	folder := server.AuthorityFolder(db)
	if _, err := server.OpenAuthority(folder, "hangar", time.Now()); err != nil {
		t.Fatal(err)
	}
	key := filepath.Join(folder, "authority.key")
	if err := os.WriteFile(key, []byte("spoilt"), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := said(t, "serve", "-db", db, "-addr", "127.0.0.1:0", "-lan", "-lan-addr", "127.0.0.1:0")
	if !errors.Is(err, server.ErrAuthorityDamaged) || !strings.Contains(err.Error(), "Nothing was changed") || !strings.Contains(err.Error(), folder) || out != "" {
		t.Errorf("%v, having said %q", err, out)
	}
	if text, err := os.ReadFile(key); err != nil || string(text) != "spoilt" {
		t.Errorf("the key is %q (%v)", text, err)
	}
}

// TestTrustCommand: what it prints for a network, on paper and in a terminal,
// and near the authority's end.
func TestTrustCommand(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "book.db.authority")
	made := time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)
	if _, err := server.OpenAuthority(folder, "hangar", made); err != nil {
		t.Fatal(err)
	}
	cert, err := server.ReadCertificate(folder)
	if err != nil {
		t.Fatal(err)
	}
	trust := server.Trust{Certificate: cert, Network: server.Network{Host: "hangar", Addresses: []server.Address{
		{Addr: netip.MustParseAddr("192.168.1.5"), Card: "wlan0"}, {Addr: netip.MustParseAddr("10.0.0.7"), Card: "eth0"}}}, BookPort: "8443", TrustPort: "8444"}
	for at, says := range map[time.Time]string{made: "It ends on 2036-03-14.", made.AddDate(9, 11, 0): "which is soon", made.AddDate(11, 0, 0): "It ended on 2036-03-14"} {
		var out bytes.Buffer
		if err := printTrust(&out, trust, at); err != nil {
			t.Fatal(err)
		}
		code, err := views.QRText("http://192.168.1.5:8444")
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range []string{says, code, "http://10.0.0.7:8444", "https://192.168.1.5:8443 or https://10.0.0.7:8443", "https://hangar.local:8443", strings.Join(server.Fingerprint(cert)[12:], " "), "Android"} {
			if !strings.Contains(out.String(), w) {
				t.Errorf("%s: it does not say %q:\n%s", at, w, &out)
			}
		}
	}
	if got := onPaper("█ \n", true); !strings.HasPrefix(got, "\x1b[") || !strings.HasSuffix(got, "\x1b[0m\n") {
		t.Errorf("in a terminal: %q", got)
	}
}

// TestLANBrowser: Chromium takes the pages over HTTPS for a secure context,
// where the certificate's key is one it was told to trust.
func TestLANBrowser(t *testing.T) {
	r := startProgram(t, "-lan", "-lan-addr", "127.0.0.1:0")
	base := "https://127.0.0.1:" + r.find(`port ([1-9][0-9]*)`)
	stranger, _ := openBrowser(t, base)
	if err := chromedp.Do(stranger, chromedp.Navigate(base+"/sign-in")); err == nil || !strings.Contains(err.Error(), "ERR_CERT_AUTHORITY_INVALID") {
		t.Errorf("a browser that does not trust it: %v", err)
	}
	key := sha256.Sum256(r.authority().RawSubjectPublicKeyInfo)
	ctx, watched := openBrowser(t, base, chromedp.Flag("ignore-certificate-errors-spki-list", base64.StdEncoding.EncodeToString(key[:])))
	if err := chromedp.Do(ctx, chromedp.Navigate(base+"/sign-in")); err != nil {
		t.Fatal(err)
	}
	got, err := chromedp.Run(ctx, chromedp.Evaluate[string](`window.isSecureContext + " " + location.protocol + " " + ("serviceWorker" in navigator) + " " + document.querySelector("h1").textContent`))
	if err != nil || got != "true https: true Sign in" {
		t.Errorf("the page is %q (%v)", got, err)
	}
	for _, complaint := range watched.list() {
		t.Errorf("browser: %s", complaint)
	}
	r.stop()
	if err := <-r.ended; err != nil {
		t.Error(err)
	}
}

// from is a connection that came in by an address of this computer.
type from struct {
	net.Conn
	local  net.Addr
	closed bool
}

func (c *from) LocalAddr() net.Addr { return c.local }
func (c *from) Close() error        { c.closed = true; return nil }

type coming struct {
	net.Listener
	conns []*from
}

func (l *coming) Accept() (net.Conn, error) {
	if len(l.conns) == 0 {
		return nil, net.ErrClosed
	}
	c := l.conns[0]
	l.conns = l.conns[1:]
	return c, nil
}

// TestPrivateCardsOnly: who comes by an address that is not private is not
// answered, whatever host they name. Sources of the ranges: RFC 1918, RFC 4193;
// public ones are those for documentation, RFC 5737 and RFC 3849.
func TestPrivateCardsOnly(t *testing.T) {
	at := func(address string) *from {
		return &from{local: net.TCPAddrFromAddrPort(netip.AddrPortFrom(netip.MustParseAddr(address), 8443))}
	}
	shut := []*from{at("192.0.2.2"), at("2001:db8::2"), at("::ffff:198.51.100.7"), {local: &net.UnixAddr{Name: "x", Net: "unix"}}}
	let := []*from{at("192.168.1.7"), at("fd00::2"), at("127.0.0.1"), at("::ffff:10.0.0.3")}
	var told []net.Addr
	l := onPrivate{&coming{conns: append(slices.Clone(shut), let...)}, func(by net.Addr) { told = append(told, by) }}
	for _, want := range let {
		if c, err := l.Accept(); err != nil || c != net.Conn(want) || want.closed {
			t.Errorf("at %v: %v, %v", want.local, c, err)
		}
	}
	if _, err := l.Accept(); !errors.Is(err, net.ErrClosed) {
		t.Errorf("after the last: %v", err)
	}
	if len(told) != len(let) {
		t.Errorf("told of %v", told)
	}
	for _, c := range shut {
		if !c.closed {
			t.Errorf("who comes by %v is let in", c.local)
		}
	}
}
