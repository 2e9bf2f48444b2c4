package server

import (
	"fmt"
	"net"
	"net/netip"
	"os"
	"regexp"
	"slices"
	"strings"
)

// Network is what this computer is called and where it can be reached.
type Network struct {
	Host      string // its name, without a domain; "" where it has none that a browser takes
	Addresses []Address
}

// Address is a private address of a network card.
type Address struct {
	netip.Addr
	Card string
}

// Name is the computer's name on a network without a name server.
func (n Network) Name() string {
	if n.Host == "" {
		return ""
	}
	return n.Host + ".local"
}

// Offered are the addresses that a tablet can be sent to. An IPv6 address of
// the link's own is not among them: it is nothing without the name of the
// tablet's network card, and browsers take none.
func (n Network) Offered() []Address {
	return slices.DeleteFunc(slices.Clone(n.Addresses), func(a Address) bool { return a.Is6() && a.IsLinkLocalUnicast() })
}

// same reports whether nothing has changed that a certificate names.
func (n Network) same(m Network) bool {
	return n.Host == m.Host && slices.Equal(n.Addresses, m.Addresses)
}

// LookNetwork asks the operating system.
func LookNetwork() (Network, error) {
	var n Network
	if name, err := os.Hostname(); err == nil {
		n.Host = hostLabel(name)
	}
	cards, err := net.Interfaces()
	if err != nil {
		return n, fmt.Errorf("list network cards: %w", err)
	}
	for _, card := range cards {
		if card.Flags&net.FlagUp == 0 || card.Flags&net.FlagLoopback != 0 {
			continue
		}
		addresses, err := card.Addrs()
		if err != nil {
			return n, fmt.Errorf("list addresses of %s: %w", card.Name, err)
		}
		for _, address := range addresses {
			if prefix, err := netip.ParsePrefix(address.String()); err == nil {
				n.Addresses = append(n.Addresses, Address{prefix.Addr().Unmap(), card.Name})
			}
		}
	}
	n.Addresses = usable(n.Addresses)
	return n, nil
}

var label = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`)

// hostLabel is the first label of a host name, or "" where it cannot stand in
// a browser's address.
func hostLabel(name string) string {
	name, _, _ = strings.Cut(strings.ToLower(name), ".")
	if name == "localhost" || !label.MatchString(name) {
		return ""
	}
	return name
}

// usable keeps the private addresses, those first that a tablet can most
// likely reach: IPv4 before IPv6, given before self-made, real cards before
// those of containers, virtual machines and tunnels.
func usable(all []Address) []Address {
	var kept []Address
	for _, a := range all {
		if private(a.Addr) && !a.IsLoopback() {
			kept = append(kept, a)
		}
	}
	slices.SortStableFunc(kept, func(a, b Address) int { return rank(a) - rank(b) })
	return kept
}

func rank(a Address) int {
	n := 0
	if a.Is6() {
		n += 1
	}
	if a.IsLinkLocalUnicast() {
		n += 2
	}
	if virtual.MatchString(a.Card) {
		n += 4
	}
	return n
}

// virtual is how cards are called that lead to no hangar (from memory).
var virtual = regexp.MustCompile(`(?i)^(docker|br-|veth|virbr|vmnet|vboxnet|vethernet|tun|tap|utun|wg|zt|tailscale|podman|cni|lxc|lxd)`)
