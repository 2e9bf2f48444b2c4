package server

import (
	"sync"
	"time"
)

// Tries of a password that are free, of one account and from one address; each
// wrong one after them doubles the wait, up to the longest.
const (
	freeForAccount = 5
	freeForAddress = 20
	longestWait    = 5 * time.Minute
	triesForgotten = time.Hour
)

// slowdown slows the guessing of passwords. It is kept in memory: who can start
// the program anew has the book itself.
type slowdown struct {
	mu    sync.Mutex
	tries map[string]tries
}

type tries struct {
	wrong int
	next  time.Time // earliest time of the next try
	last  time.Time
}

// try counts a try for each key, with the number that are free, as wrong until
// it is forgiven; or says how long to wait and counts nothing.
func (s *slowdown) try(now time.Time, free map[string]int) time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forget(now)
	var wait time.Duration
	for key := range free {
		wait = max(wait, s.tries[key].next.Sub(now))
	}
	if wait > 0 {
		return wait
	}
	for key, n := range free {
		t := s.tries[key]
		t.wrong, t.last = t.wrong+1, now
		if over := t.wrong - n; over >= 0 {
			t.next = now.Add(min(longestWait, time.Second<<min(over, 20)))
		}
		s.tries[key] = t
	}
	return 0
}

// forgive forgets the tries of an account that was signed in to, and takes this
// one back from the addresses.
func (s *slowdown) forgive(account string, addresses ...string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.tries, account)
	for _, a := range addresses {
		t := s.tries[a]
		t.wrong, t.next = t.wrong-1, time.Time{}
		s.tries[a] = t
	}
}

// forget drops what is old, so that made-up names do not fill the memory.
func (s *slowdown) forget(now time.Time) {
	if s.tries == nil {
		s.tries = map[string]tries{}
	}
	for key, t := range s.tries {
		if now.Sub(t.last) > triesForgotten {
			delete(s.tries, key)
		}
	}
}
