package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"time"

	"barrelbook/server"
	"barrelbook/store"
)

// lanAddress is where tablets are served when nothing else is said: on every
// network card.
const lanAddress = ":8443"

// lookEvery is how often the network is looked at. An address that a tablet
// comes to is noticed at once all the same.
const lookEvery = 15 * time.Second

// lanPorts reads the address for tablets: the host is empty, for every card,
// or one address of this machine. The trust page is at the port after it.
func lanPorts(addr string) (host string, port int, err error) {
	host, text, err := net.SplitHostPort(addr)
	if err != nil {
		return "", 0, fmt.Errorf("address %q: write it as :8443: %w", addr, errUsage)
	}
	port, err = strconv.Atoi(text)
	if err != nil || port < 0 || port > 65534 {
		return "", 0, fmt.Errorf("address %q: the port is a number up to 65534: %w", addr, errUsage)
	}
	if _, err := netip.ParseAddr(host); host != "" && err != nil {
		return "", 0, fmt.Errorf("address %q: write no host, for every network card, or the address of one: %w", addr, errUsage)
	}
	return host, port, nil
}

// startLAN listens for tablets and on the page about trust.
func startLAN(ctx context.Context, book *store.Book, answers *server.Server, addr string, log *slog.Logger) (*server.LAN, []*site, error) {
	if err := readyForNetwork(ctx, book); err != nil {
		return nil, nil, err
	}
	host, port, err := lanPorts(addr)
	if err != nil {
		return nil, nil, err
	}
	lan, err := openLAN(book, onCard(host, server.LookNetwork), log)
	if err != nil {
		return nil, nil, err
	}
	tablets, trust, err := listenLAN(addr, host, port, log)
	if err != nil {
		return nil, nil, err
	}
	tablets.listener, trust.listener = onPrivate{tablets.listener, lan.Arrived}, onPrivate{trust.listener, lan.Arrived}
	lan.Listening(tablets.port(), trust.port())
	answers.OnLAN(lan)
	tablets.web.Handler, tablets.web.TLSConfig = answers.HandlerFor(lan.Knows), lan.TLS()
	trust.web.Handler = server.TrustHandler(lan, log)
	return lan, []*site{tablets, trust}, nil
}

// openLAN reads the book's authority, or makes it, and makes a certificate for
// the network as it is now.
func openLAN(book *store.Book, look func() (server.Network, error), log *slog.Logger) (*server.LAN, error) {
	network, err := look()
	if err != nil {
		return nil, err
	}
	authority, err := server.OpenAuthority(server.AuthorityFolder(book.Path()), network.Host, time.Now())
	if err != nil {
		return nil, fmt.Errorf("the hangar network is not served: %w%s", err, authorityHelp(err))
	}
	return server.NewLAN(authority, look, time.Now, log)
}

func listenLAN(addr, host string, port int, log *slog.Logger) (tablets, trust *site, err error) {
	if tablets, err = listen(addr, log); err != nil {
		return nil, nil, err
	}
	if port != 0 {
		port++
	}
	if trust, err = listen(net.JoinHostPort(host, strconv.Itoa(port)), log); err != nil {
		return nil, nil, errors.Join(err, tablets.listener.Close())
	}
	return tablets, trust, nil
}

// onPrivate lets in only who comes by a private address of this computer: it
// may have another card too, which the whole world can reach.
// Each is told to arrived, for the address may be new.
type onPrivate struct {
	net.Listener
	arrived func(by net.Addr)
}

func (l onPrivate) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if server.Private(c.LocalAddr()) {
			l.arrived(c.LocalAddr())
			return c, nil
		}
		c.Close() // nothing was said yet
	}
}

// watchLAN watches the network until ctx ends, and says where tablets find the
// book when that changes.
func watchLAN(ctx context.Context, lan *server.LAN, home string, log *slog.Logger, out io.Writer) {
	every := time.NewTicker(lookEvery)
	defer every.Stop()
	lan.Watch(ctx, every.C, server.AnswerName(log), func(moved bool) {
		t := lan.Trust()
		switch {
		case moved:
			tell(out, t, home)
		case t.Named():
			fmt.Fprintf(out, "Most tablets also find it at https://%s\n", net.JoinHostPort(t.Network.Name(), t.BookPort))
		}
	})
}

// onCard looks at the network and leaves out the addresses that are not
// listened on.
func onCard(host string, look func() (server.Network, error)) func() (server.Network, error) {
	only, err := netip.ParseAddr(host)
	if err != nil || only.IsUnspecified() {
		return look
	}
	return func() (server.Network, error) {
		n, err := look()
		n.Addresses = slices.DeleteFunc(n.Addresses, func(a server.Address) bool { return a.Addr.WithZone("") != only.WithZone("") })
		return n, err
	}
}

// authorityHelp is what a person can do about an authority that is refused.
func authorityHelp(err error) string {
	if errors.Is(err, server.ErrAuthorityEarly) {
		return ". Nothing was changed. Is the clock right, it was wrong when the authority was made: move that folder away and start again; every tablet must trust the new one anew"
	}
	for _, refused := range []error{server.ErrAuthorityDamaged, server.ErrAuthorityEnded} {
		if errors.Is(err, refused) {
			return ". Nothing was changed. Put that folder back from a backup, or move it away and start again: a new authority is made then, which every tablet must trust anew"
		}
	}
	return ". Nothing was changed"
}

// tell says where tablets find the book.
func tell(out io.Writer, t server.Trust, home string) {
	offers := t.Offers()
	var lines strings.Builder
	if len(offers) == 0 {
		fmt.Fprintf(&lines, "There is no network with private addresses, so tablets cannot come yet. Their address, with port %s, is told here when there is one.\n", t.BookPort)
	} else {
		fmt.Fprintln(&lines, "Tablets on this network:", bookAddresses(offers))
		fmt.Fprintf(&lines, "Each trusts this computer once: open %s on it, or scan the code at %s/tablets\n", offers[0].Trust, home)
	}
	fmt.Fprintln(&lines, "Fingerprint of the certificate (SHA-256):", strings.Join(t.Fingerprint(), " "))
	if server.EndsSoon(t.Certificate, time.Now()) {
		fmt.Fprintln(&lines, "The certificate ends on", t.Certificate.NotAfter.UTC().Format(time.DateOnly)+": see barrelbook trust")
	}
	fmt.Fprint(out, lines.String())
}

func bookAddresses(offers []server.Offer) string {
	var all []string
	for _, o := range offers {
		all = append(all, o.Book)
	}
	return strings.Join(all, " or ")
}
