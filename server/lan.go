package server

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/netip"
	"strings"
	"sync"
	"time"
)

// LAN keeps what the hangar network needs: the certificate that is shown to
// tablets, for the addresses and the name that this computer has at the
// moment. It is safe for concurrent use.
type LAN struct {
	authority *Authority
	look      func() (Network, error)
	now       func() time.Time
	log       *slog.Logger

	mu        sync.Mutex
	network   Network
	leaf      *tls.Certificate
	name      NameState
	bookPort  string
	trustPort string
}

// NewLAN makes a LAN that asks look for the network and now for the time. Its
// first certificate is made at once.
func NewLAN(a *Authority, look func() (Network, error), now func() time.Time, log *slog.Logger) (*LAN, error) {
	l := &LAN{authority: a, look: look, now: now, log: log}
	if err := l.Refresh(); err != nil {
		return nil, err
	}
	return l, nil
}

// Refresh looks at the network, and makes the certificate anew where its
// addresses or its name have changed or it nears its end. When it fails, the
// certificate that is there stays.
func (l *LAN) Refresh() error {
	network, err := l.look()
	if err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if l.leaf != nil && network.same(l.network) && !l.nearEnd(now) {
		return nil
	}
	leaf, err := l.authority.Leaf(network.names(), network.numbers(), now)
	if err != nil {
		return err
	}
	l.network, l.leaf = network, leaf
	return nil
}

// nearEnd reports whether a new certificate would last longer, or the clock
// was set to before this one begins.
func (l *LAN) nearEnd(now time.Time) bool {
	leaf := l.leaf.Leaf
	if leaf.NotAfter.Equal(l.authority.cert.NotAfter) && now.Before(leaf.NotAfter) && !now.Before(leaf.NotBefore) {
		return false
	}
	return now.Before(leaf.NotBefore) || !now.Before(leaf.NotAfter.Add(-leafRenewal))
}

// names are the names that a certificate is for.
func (n Network) names() []string {
	if name := n.Name(); name != "" {
		return []string{name}
	}
	return nil
}

// numbers are the addresses that a certificate is for: those of the network,
// and this machine's own.
func (n Network) numbers() []netip.Addr {
	all := []netip.Addr{netip.AddrFrom4([4]byte{127, 0, 0, 1}), netip.IPv6Loopback()}
	for _, a := range n.Addresses {
		all = append(all, a.Addr)
	}
	return all
}

// TLS is the configuration of the LAN listener.
func (l *LAN) TLS() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: l.certificate}
}

// certificate is shown to who connects. Whoever came to an address that the
// certificate does not name is the first to tell that it has changed.
func (l *LAN) certificate(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
	if hello.Conn != nil {
		l.Arrived(hello.Conn.LocalAddr())
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.leaf == nil {
		return nil, errors.New("there is no certificate")
	}
	return l.leaf, nil
}

// Arrived looks at the network again where somebody comes by an address that it
// did not have the last time.
func (l *LAN) Arrived(by net.Addr) {
	if l.names(by) {
		return
	}
	if err := l.Refresh(); err != nil {
		l.log.Warn("renew certificate", "error", err)
	}
}

// names reports whether the certificate is for this end of a connection, or
// could not be.
func (l *LAN) names(end net.Addr) bool {
	return !Private(end) || l.Knows(end.(*net.TCPAddr).AddrPort().Addr().Unmap().String())
}

// Knows reports whether a host name or address is this computer's on the LAN.
func (l *LAN) Knows(host string) bool {
	n := l.Network()
	host = strings.ToLower(strings.TrimSuffix(host, "."))
	if host != "" && host == n.Name() {
		return true
	}
	address, err := netip.ParseAddr(host)
	if err != nil {
		return false
	}
	address = address.Unmap().WithZone("")
	for _, own := range n.numbers() {
		if own.WithZone("") == address {
			return true
		}
	}
	return false
}

// Network is the network as it was seen last.
func (l *LAN) Network() Network {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.network
}

// Listening notes the ports of the book and of the page about trust.
func (l *LAN) Listening(book, trust string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.bookPort, l.trustPort = book, trust
}

// Trust is what a person needs to make a tablet trust this computer.
func (l *LAN) Trust() Trust {
	l.mu.Lock()
	defer l.mu.Unlock()
	return Trust{Certificate: l.authority.cert, Network: l.network, Name: l.name, BookPort: l.bookPort, TrustPort: l.trustPort}
}

// Watch looks at the network at each tick until ctx ends, and answers for the
// .local name meanwhile. Once it is known who answers, at first and whenever
// the network has moved, it calls told.
func (l *LAN) Watch(ctx context.Context, tick <-chan time.Time, answer Answer, told func(moved bool)) {
	seen, trouble := l.Network(), ""
	stop := l.answer(ctx, answer, seen)
	defer func() { stop() }()
	told(false)
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick:
		}
		said := trouble
		if trouble = words(l.Refresh()); trouble != said && trouble != "" {
			l.log.Error("renew certificate", "error", trouble)
		}
		// Compared with what was seen here: a handshake may have been first.
		if now := l.Network(); !now.same(seen) {
			seen = now
			stop()
			stop = l.answer(ctx, answer, seen)
			told(true)
		}
	}
}

// answer begins to answer for the .local name, where there is a network.
func (l *LAN) answer(ctx context.Context, answer Answer, n Network) (stop func()) {
	state, stop := NameUnanswered, func() {}
	if n.Name() != "" && len(n.Addresses) > 0 && answer != nil {
		state, stop = answer(ctx, n)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.name = state
	return stop
}

func words(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
