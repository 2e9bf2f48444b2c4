package server

import (
	"crypto/x509"
	"net"
	"slices"
	"strings"
)

// Trust is what a person needs to make a tablet trust this computer.
type Trust struct {
	Certificate         *x509.Certificate
	Network             Network
	Name                NameState
	BookPort, TrustPort string
}

// Offer is a way to reach this computer from a tablet.
type Offer struct {
	Card  string // of the network, "" for the name
	At    string // address or name
	Book  string // where the book is
	Trust string // where the certificate is
}

// Offers lists the ways, the likeliest first. The name comes last: not every
// tablet can find it.
func (t Trust) Offers() []Offer {
	var offers []Offer
	for _, a := range t.Network.Offered() {
		offers = append(offers, t.offer(a.Card, a.String()))
	}
	if t.Named() {
		offers = append(offers, t.offer("", t.Network.Name()))
	}
	return offers
}

// Named reports whether the .local name leads here.
func (t Trust) Named() bool { return t.Name == NameBySystem || t.Name == NameByUs }

func (t Trust) offer(card, at string) Offer {
	return Offer{Card: card, At: at, Book: "https://" + net.JoinHostPort(at, t.BookPort), Trust: "http://" + net.JoinHostPort(at, t.TrustPort)}
}

// Title is what the certificate is called in a tablet's settings.
func (t Trust) Title() string { return t.Certificate.Subject.CommonName }

// Fingerprint is the certificate's, in four lines of four groups.
func (t Trust) Fingerprint() (lines []string) {
	for four := range slices.Chunk(Fingerprint(t.Certificate), 4) {
		lines = append(lines, strings.Join(four, " "))
	}
	return lines
}

// Guide is how a kind of device is made to trust the certificate.
type Guide struct {
	System string
	Steps  []string
}

// Guides are for each kind of device. What menus are called is from memory,
// and pages that show it say so.
func (t Trust) Guides() []Guide {
	title := "“" + t.Title() + "”"
	return []Guide{
		{"iPhone and iPad", []string{
			"Open this page in Safari and tap “Get the certificate”. Allow the profile to be downloaded.",
			"Open Settings and tap “Profile Downloaded” near the top; or General, then VPN & Device Management.",
			"Tap More Details and then the certificate. Compare its SHA-256 fingerprint with the one on the laptop’s screen. Only if they agree, tap Install.",
			"Open Settings, General, About, Certificate Trust Settings, at the very bottom. Switch on full trust for " + title + ". Without this step it does not work.",
		}},
		{"Android", []string{
			"Open this page in Chrome and tap “Get the certificate”. If it warns of the download, keep the file.",
			"Open Settings and search for “CA certificate” (Security, Encryption & credentials, Install a certificate). Choose it, tap Install anyway, and pick the file barrelbook-authority.crt. The tablet may ask for a screen lock first.",
			"Then look under Trusted credentials, User, at " + title + ". Compare its SHA-256 fingerprint with the one on the laptop’s screen. If they differ, remove it at once.",
			"Use Chrome afterwards. Firefox keeps a list of its own.",
		}},
		{"Windows", []string{
			"Open this page and choose “Get the certificate”.",
			"In a terminal, in the folder of the download: certutil -hashfile barrelbook-authority.crt SHA256. Compare what it prints with the fingerprint on the laptop’s screen.",
			"Open the file, choose Install Certificate, Current User, “Place all certificates in the following store”, Trusted Root Certification Authorities.",
		}},
		{"macOS", []string{
			"Open this page and choose “Get the certificate”. Open the file: Keychain Access adds it to the login keychain.",
			"Open " + title + " there. Under Details compare its SHA-256 fingerprint with the one on the laptop’s screen.",
			"Under Trust, choose Always Trust.",
		}},
		{"Linux", []string{
			"Open this page and choose “Get the certificate”. Run sha256sum barrelbook-authority.crt and compare what it prints with the fingerprint on the laptop’s screen.",
			"Chromium: Settings, Privacy and security, Security, Manage certificates; import it under Authorities, for websites.",
			"Firefox: Settings, Privacy & Security, View Certificates, Authorities, Import; trust it for websites.",
		}},
	}
}
