package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/netip"
	"slices"
	"time"

	"github.com/pion/logging"
	"github.com/pion/mdns/v2"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

// NameState says who answers for this computer's .local name.
type NameState int

// A name that nobody answers for is not offered to tablets, nor is one that
// another computer has too.
const (
	NameUnanswered NameState = iota
	NameBySystem             // the operating system does, as most do
	NameByUs                 // this program does
	NameTaken                // another computer on the network has it
)

// Answer begins to answer for the network's .local name, unless somebody does
// already, until stop is called.
type Answer func(ctx context.Context, n Network) (state NameState, stop func())

// probeFor is how long the network is asked who has the name. Source: RFC
// 6762, 8.1, has three questions 250 ms apart.
const probeFor = 1500 * time.Millisecond

// AnswerName is the Answer by multicast DNS (RFC 6762).
func AnswerName(log *slog.Logger) Answer {
	return func(ctx context.Context, n Network) (NameState, func()) {
		state, err := probe(ctx, n)
		if err == nil && state == NameUnanswered {
			var answering *mdns.Conn
			if answering, err = openMulticast(mdns.WithLocalNames(n.Name())); err == nil {
				return NameByUs, func() {
					if err := answering.Close(); err != nil {
						log.Warn("stop answering for name", "name", n.Name(), "error", err)
					}
				}
			}
		}
		if err != nil && ctx.Err() == nil {
			log.Warn("answer for name", "name", n.Name(), "error", err)
		}
		return state, func() {}
	}
}

// probe asks the network for the name. What answers with an address of ours is
// this computer's own system.
func probe(ctx context.Context, n Network) (state NameState, err error) {
	asking, err := openMulticast(mdns.WithQueryInterval(probeFor / 4))
	if err != nil {
		return NameUnanswered, err
	}
	defer func() { err = errors.Join(err, asking.Close()) }()
	ctx, cancel := context.WithTimeout(ctx, probeFor)
	defer cancel()
	_, address, err := asking.QueryAddr(ctx, n.Name())
	switch {
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return NameUnanswered, nil
	case err != nil:
		return NameUnanswered, fmt.Errorf("ask for name: %w", err)
	case ours(n, address):
		return NameBySystem, nil
	}
	return NameTaken, nil
}

func ours(n Network, address netip.Addr) bool {
	address = address.Unmap().WithZone("")
	if address.IsLoopback() || slices.ContainsFunc(n.Addresses, func(a Address) bool { return a.WithZone("") == address }) {
		return true
	}
	// A system answers with addresses of all kinds, also those that are not private.
	all, err := net.InterfaceAddrs()
	return err == nil && slices.ContainsFunc(all, func(a net.Addr) bool {
		prefix, err := netip.ParsePrefix(a.String())
		return err == nil && prefix.Addr().Unmap() == address
	})
}

// openMulticast listens where multicast DNS is spoken, by whichever of IPv4
// and IPv6 there is.
func openMulticast(options ...mdns.ServerOption) (*mdns.Conn, error) {
	quiet := logging.NewDefaultLoggerFactory()
	quiet.Writer = io.Discard
	options = append(options, mdns.WithLoggerFactory(quiet), mdns.WithCacheRefresh(false))
	var v4 *ipv4.PacketConn
	var v6 *ipv6.PacketConn
	conn4, err4 := listenMulticast("udp4", mdns.DefaultAddressIPv4)
	if err4 == nil {
		v4 = ipv4.NewPacketConn(conn4)
	}
	conn6, err6 := listenMulticast("udp6", mdns.DefaultAddressIPv6)
	if err6 == nil {
		v6 = ipv6.NewPacketConn(conn6)
	}
	if err4 != nil && err6 != nil {
		return nil, fmt.Errorf("listen for multicast DNS: %w", errors.Join(err4, err6))
	}
	conn, err := mdns.NewServer(v4, v6, options...)
	if err == nil {
		return conn, nil
	}
	for _, c := range []*net.UDPConn{conn4, conn6} {
		if c != nil {
			_ = c.Close() // the library may have closed it
		}
	}
	return nil, fmt.Errorf("speak multicast DNS: %w", err)
}

func listenMulticast(network, address string) (*net.UDPConn, error) {
	to, err := net.ResolveUDPAddr(network, address)
	if err != nil {
		return nil, err
	}
	return net.ListenUDP(network, to)
}
