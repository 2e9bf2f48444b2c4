package server

import (
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"testing"

	"github.com/pion/mdns/v2"
)

// TestLocalName: the program answers for a name that nobody answers for, leaves
// it to the system where that does, and to another computer that has it. It
// asks the real network, where there is one that carries multicast.
func TestLocalName(t *testing.T) {
	real := must[Network](t)(LookNetwork())
	if len(real.Addresses) == 0 {
		real.Addresses = network(t, "", "192.168.1.5 none").Addresses
	}
	real.Host = fmt.Sprintf("barrelbook-test-%d", rand.Uint32())
	answer := AnswerName(slog.New(slog.DiscardHandler))
	state, stop := answer(t.Context(), real)
	if state != NameByUs {
		stop()
		t.Skip("no multicast here")
	}
	if got, err := probe(t.Context(), real); err != nil || got != NameBySystem {
		stop()
		t.Skipf("multicast does not come back here: %v, %v", got, err)
	}
	if got := patiently(t, answer, real, NameBySystem); got != NameBySystem {
		t.Errorf("a second program on this computer: state %v", got)
	}
	stop()
	if got, err := probe(t.Context(), real); err != nil || got != NameUnanswered {
		t.Errorf("after the stop: %v, %v", got, err)
	}
	other := must[*mdns.Conn](t)(openMulticast(mdns.WithLocalNames(real.Name()), mdns.WithLocalAddress(net.IPv4(192, 0, 2, 99))))
	defer func() { ok(t, other.Close()) }()
	if got := patiently(t, answer, real, NameTaken); got != NameTaken {
		t.Errorf("a name that another computer has: state %v", got)
	}
}

// patiently asks a few times: on a busy machine an answer may come late.
func patiently(t *testing.T, answer Answer, n Network, want NameState) (got NameState) {
	t.Helper()
	for range 5 {
		var stop func()
		got, stop = answer(t.Context(), n)
		stop()
		if got == want {
			break
		}
	}
	return got
}
