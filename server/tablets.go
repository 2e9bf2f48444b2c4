package server

import (
	"bytes"
	"encoding/pem"
	"log/slog"
	"net/http"
	"strings"

	"barrelbook/static"
	"barrelbook/views"
)

// OnLAN tells the server that tablets reach it too. Call it before Handler.
func (s *Server) OnLAN(l *LAN) { s.lan = l }

// tablets shows how a tablet reaches this computer: at the address that was
// chosen, or the likeliest.
func (s *Server) tablets(w http.ResponseWriter, r *http.Request) error {
	p := views.Tablets{Page: s.page(r, "Tablets and phones", views.NavTablets), On: s.lan != nil}
	if s.lan != nil {
		t := s.lan.Trust()
		p.Title, p.Fingerprint, p.Ends = t.Title(), t.Fingerprint(), date(t.Certificate.NotAfter)
		p.EndsSoon = EndsSoon(t.Certificate, s.lan.now())
		p.NameSays = t.nameSays()
		showOffers(&p, t.Offers(), r.URL.Query().Get("at"))
	}
	return s.draw(w, r, http.StatusOK, views.TabletsPage(p))
}

// showOffers lists the ways to this computer and shows the one at an address,
// or the first.
func showOffers(p *views.Tablets, offers []Offer, at string) {
	shown := 0
	for i, o := range offers {
		if o.At == at {
			shown = i
		}
	}
	for i, o := range offers {
		p.Ways = append(p.Ways, views.TabletWay{Book: o.Book, Trust: o.Trust, Card: o.Card, Href: "/tablets?at=" + o.At, Shown: i == shown})
	}
	if len(offers) > 0 {
		p.Href, p.Book, p.Card = offers[shown].Trust, offers[shown].Book, offers[shown].Card
	}
}

// nameSays is what can be told of the .local name.
func (t Trust) nameSays() string {
	name := t.Network.Name()
	switch {
	case name == "":
		return "This computer has no name that a browser takes, so tablets reach it by address."
	case t.Name == NameTaken:
		return "Another computer on this network is called " + name + " too, so tablets reach this one by address."
	case t.Named():
		return "The name " + name + " stays when the address changes. Some tablets cannot find it, older Androids among them: use the address there."
	}
	return "Nobody on this network answers for the name " + name + ", so tablets reach this computer by address."
}

// Addresses of the certificate on the page about trust. Systems tell what to do
// with it by its type.
const (
	derPath = "/barrelbook-authority.crt"
	pemPath = "/barrelbook-authority.pem"
)

// trusting serves the page about trust, the certificate and the page's two
// style sheets, to anybody on the network and without encryption, since a
// tablet cannot have the one before the other.
type trusting struct {
	lan *LAN
	log *slog.Logger
}

// TrustHandler is the page about trust.
func TrustHandler(l *LAN, log *slog.Logger) http.Handler {
	t := &trusting{l, log}
	mux := http.NewServeMux()
	mux.HandleFunc("/{$}", t.page)
	mux.HandleFunc(derPath, t.der)
	mux.HandleFunc(pemPath, t.pem)
	for _, name := range []string{"base.css", "form.css"} {
		path, _, _ := strings.Cut(static.URL(name), "?")
		mux.Handle(path, assets())
	}
	return onlyHosts(l.Knows, secureTrust(onlyReading(mux)))
}

func (t *trusting) page(w http.ResponseWriter, r *http.Request) {
	trust := t.lan.Trust()
	p := views.Trust{Title: trust.Title(), Fingerprint: trust.Fingerprint(), Ends: date(trust.Certificate.NotAfter), DER: derPath, PEM: pemPath}
	for _, o := range trust.Offers() {
		p.Book = append(p.Book, o.Book)
	}
	for _, g := range trust.Guides() {
		p.Guides = append(p.Guides, views.TrustGuide(g))
	}
	var buf bytes.Buffer
	if err := views.TrustPage(p).Render(r.Context(), &buf); err != nil {
		t.log.Error("draw page about trust", "error", err)
		http.Error(w, "something went wrong inside the program; it is in its log", http.StatusInternalServerError)
		return
	}
	t.send(w, "text/html; charset=utf-8", buf.Bytes())
}

// der is the certificate as iOS and Android install it.
func (t *trusting) der(w http.ResponseWriter, _ *http.Request) {
	t.send(w, "application/x-x509-ca-cert", t.lan.Trust().Certificate.Raw)
}

func (t *trusting) pem(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Disposition", `attachment; filename="barrelbook-authority.pem"`)
	t.send(w, "application/x-pem-file", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: t.lan.Trust().Certificate.Raw}))
}

func (t *trusting) send(w http.ResponseWriter, kind string, body []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "no-store")
	if _, err := w.Write(body); err != nil {
		t.log.Debug("send certificate", "error", err) // the reader went away
	}
}

// onlyReading refuses what is neither GET nor HEAD.
func onlyReading(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "this page is only read", http.StatusMethodNotAllowed)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func secureTrust(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		next.ServeHTTP(w, r)
	})
}
