package server

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"time"
)

// Lifetimes of the certificates. Safari takes no leaf that is valid for longer
// than 398 days (from memory of the makers' rules, which spare own authorities
// for now).
const (
	authorityYears = 10
	leafDays       = 397
	leafRenewal    = 30 * 24 * time.Hour // so long before its end a leaf is made anew
	warnBefore     = 90 * 24 * time.Hour // and so long before its own the authority warns
	clockSlack     = 24 * time.Hour      // a tablet's clock may be behind by as much
)

// Errors of an authority that cannot be used. Nothing is overwritten then:
// every tablet trusts the old one.
var (
	ErrNoAuthority      = errors.New("there is no authority yet")
	ErrAuthorityDamaged = errors.New("the authority's files are damaged")
	ErrAuthorityOpen    = errors.New("the authority's files can be read by others")
	ErrAuthorityEnded   = errors.New("the authority has ended")
	ErrAuthorityEarly   = errors.New("the authority is not valid yet by this computer's clock")
)

// Authority signs the laptop's certificates for the hangar network. A tablet
// trusts it once. It can vouch for private addresses and .local names and for
// nothing else, so that its key is of no use against any other site.
type Authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// privateRanges are all that the authority may vouch for, and all that the
// LAN listener is known by: RFC 1918, RFC 3927, RFC 4193, RFC 4291, and this
// machine itself.
var privateRanges = func() (ranges []netip.Prefix) {
	for _, s := range strings.Fields("10.0.0.0/8 172.16.0.0/12 192.168.0.0/16 169.254.0.0/16 127.0.0.0/8 fc00::/7 fe80::/10 ::1/128") {
		ranges = append(ranges, netip.MustParsePrefix(s))
	}
	return ranges
}()

// private reports whether an address lies in the private ranges.
func private(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	for _, r := range privateRanges {
		if r.Contains(a) {
			return true
		}
	}
	return false
}

// Private reports whether an end of a connection is an address that the LAN
// listener may be known by.
func Private(end net.Addr) bool {
	tcp, isTCP := end.(*net.TCPAddr)
	return isTCP && private(tcp.AddrPort().Addr())
}

// newAuthority makes an authority with a key of its own.
func newAuthority(host string, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make key: %w", err)
	}
	template := &x509.Certificate{
		Subject:   pkix.Name{CommonName: strings.TrimSpace("Barrelbook " + host + now.UTC().Format(" 2006-01-02")), Organization: []string{"Barrelbook, for this hangar only"}},
		NotBefore: now.Add(-clockSlack), NotAfter: now.AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		// A system that keeps one list for all purposes trusts it for servers only.
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         []string{"local"},
	}
	for _, r := range privateRanges {
		template.PermittedIPRanges = append(template.PermittedIPRanges, &net.IPNet{IP: r.Addr().AsSlice(), Mask: net.CIDRMask(r.Bits(), r.Addr().BitLen())})
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		return nil, fmt.Errorf("make authority: %w", err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("make authority: %w", err)
	}
	return &Authority{cert, key}, nil
}

// usable says why the authority cannot sign at this moment.
func (a *Authority) usable(now time.Time) error {
	switch {
	case now.Before(a.cert.NotBefore):
		return fmt.Errorf("%w: it begins on %s and the clock says %s; set the clock", ErrAuthorityEarly, date(a.cert.NotBefore), date(now))
	case !now.Before(a.cert.NotAfter):
		return fmt.Errorf("%w, on %s (the clock says %s)", ErrAuthorityEnded, date(a.cert.NotAfter), date(now))
	}
	return nil
}

// Leaf makes a certificate for names and addresses, from a day ago on, so that
// a slow clock is forgiven, until 397 days later or the authority's own end.
func (a *Authority) Leaf(names []string, addresses []netip.Addr, now time.Time) (*tls.Certificate, error) {
	if err := a.usable(now); err != nil {
		return nil, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make key: %w", err)
	}
	begin := later(now.Add(-clockSlack), a.cert.NotBefore)
	template := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "Barrelbook"},
		NotBefore: begin, NotAfter: earlier(begin.AddDate(0, 0, leafDays), a.cert.NotAfter),
		BasicConstraintsValid: true,
		KeyUsage:              x509.KeyUsageDigitalSignature,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:              names,
	}
	for _, address := range addresses {
		template.IPAddresses = append(template.IPAddresses, net.IP(address.Unmap().WithZone("").AsSlice()))
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, &key.PublicKey, a.key)
	if err != nil {
		return nil, fmt.Errorf("make certificate: %w", err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("make certificate: %w", err)
	}
	return &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key, Leaf: leaf}, nil
}

// Certificate is what a tablet has to trust.
func (a *Authority) Certificate() *x509.Certificate { return a.cert }

// Fingerprint is the SHA-256 of a certificate, in sixteen groups of four
// hexadecimal digits, as a person compares it.
func Fingerprint(c *x509.Certificate) []string {
	sum := sha256.Sum256(c.Raw)
	digits := strings.ToUpper(hex.EncodeToString(sum[:]))
	var groups []string
	for i := 0; i < len(digits); i += 4 {
		groups = append(groups, digits[i:i+4])
	}
	return groups
}

// EndsSoon reports whether a new authority must be made in the next months.
func EndsSoon(c *x509.Certificate, now time.Time) bool { return now.After(c.NotAfter.Add(-warnBefore)) }

func date(t time.Time) string { return t.UTC().Format(time.DateOnly) }

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
