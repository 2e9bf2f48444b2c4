package server

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"github.com/gorilla/sessions"

	"barrelbook/store"
)

// A session ends when it was not used for so long; that it is used is noted
// now and then only.
const (
	sessionIdle  = 12 * time.Hour
	sessionNoted = time.Minute
)

// sessionName is what the session is called; see cookieName.
const sessionName = "barrelbook"

// Keys of a session's values that are no part of its data.
type sessionKey int

const (
	personKey sessionKey = iota // int64: who is signed in
	loadedKey                   // string: the data as they are in the book
	usedKey                     // time.Time: when it was noted as used
)

// bookSessions keeps sessions in the book. The cookie has a random id of 256
// bits and nothing else, the book only its SHA-256.
type bookSessions struct {
	book *store.Book
	now  func() time.Time
}

// cookieName differs by port, since browsers send the cookies of one port to
// all others: so the demo does not sign anybody out of the shop's own book.
// With encryption the browser holds it to this host and to encryption.
func cookieName(r *http.Request) string {
	name := sessionName
	if _, port, err := net.SplitHostPort(r.Host); err == nil {
		name += "-" + port
	}
	if r.TLS != nil {
		name = "__Host-" + name
	}
	return name
}

// Get returns the request's session, see New.
func (b *bookSessions) Get(r *http.Request, name string) (*sessions.Session, error) {
	return sessions.GetRegistry(r).Get(b, name)
}

// New reads the session that the request's cookie names. A cookie that names
// none gives a new session; the error is that of the book.
func (b *bookSessions) New(r *http.Request, name string) (*sessions.Session, error) {
	s := sessions.NewSession(b, name)
	s.Options = &sessions.Options{Path: "/", MaxAge: int(sessionIdle / time.Second), HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil}
	s.IsNew = true
	s.Values[personKey], s.Values[loadedKey], s.Values[usedKey] = int64(0), "{}", time.Time{}
	cookie, err := r.Cookie(cookieName(r))
	if err != nil || len(cookie.Value) != idLength {
		return s, nil
	}
	kept, err := b.book.Session(r.Context(), keyOf(cookie.Value), b.now().Add(-sessionIdle))
	if errors.Is(err, store.ErrNotFound) {
		return s, nil
	}
	if err != nil {
		return s, err
	}
	var data map[string]any
	if err := json.Unmarshal(kept.Data, &data); err != nil {
		return s, nil
	}
	for k, v := range data {
		s.Values[k] = v
	}
	s.ID, s.IsNew = cookie.Value, false
	s.Values[personKey], s.Values[loadedKey], s.Values[usedKey] = kept.Person, string(kept.Data), kept.Used
	return s, nil
}

// Save keeps a session that has changed, or was not noted as used for a while.
// One without an ID gets a new one. A new session that says nothing is not
// kept.
func (b *bookSessions) Save(r *http.Request, w http.ResponseWriter, s *sessions.Session) error {
	data, err := sessionData(s)
	if err != nil {
		return err
	}
	now := b.now()
	same := data == s.Values[loadedKey]
	if same && s.ID != "" && now.Sub(s.Values[usedKey].(time.Time)) < sessionNoted || same && s.ID == "" && s.Values[personKey] == int64(0) {
		return nil
	}
	if err := b.keep(r.Context(), s, []byte(data), now); err != nil {
		return err
	}
	s.IsNew, s.Values[loadedKey], s.Values[usedKey] = false, data, now
	http.SetCookie(w, sessions.NewCookie(cookieName(r), s.ID, s.Options))
	return nil
}

// keep writes a session into the book. An import may have that to itself for a
// while: a sign-in waits for it, a page that only notes something does not.
func (b *bookSessions) keep(ctx context.Context, s *sessions.Session, data []byte, now time.Time) error {
	kept := store.Session{Person: s.Values[personKey].(int64), Data: data, Used: now}
	if s.ID == "" {
		s.ID = newID()
		kept.Key = keyOf(s.ID)
		return b.book.AddSession(ctx, kept, now.Add(-sessionIdle))
	}
	kept.Key = keyOf(s.ID)
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	return b.book.SaveSession(ctx, kept)
}

// sessionData writes what a session remembers, the same each time.
func sessionData(s *sessions.Session) (string, error) {
	data := map[string]any{}
	for k, v := range s.Values {
		if name, ok := k.(string); ok {
			data[name] = v
		}
	}
	text, err := json.Marshal(data)
	if err != nil {
		return "", fmt.Errorf("write session: %w", err)
	}
	return string(text), nil
}

// idLength is that of an id in text: 32 bytes.
const idLength = 43

func newID() string {
	id := make([]byte, 32)
	rand.Read(id) // never fails
	return base64.RawURLEncoding.EncodeToString(id)
}

func keyOf(id string) []byte {
	sum := sha256.Sum256([]byte(id))
	return sum[:]
}

// session is the request's; a new one where the book cannot be read.
func (s *Server) session(r *http.Request) *sessions.Session {
	session, _ := s.sessions.Get(r, sessionName)
	return session
}

// signedOutHeader tells the service worker that nobody is signed in, so that
// it drops the pages it keeps.
const signedOutHeader = "Barrelbook-Signed-Out"

// enter makes the session that of a person, 0 for nobody, under a new id; what
// it remembered is gone.
func (s *Server) enter(w http.ResponseWriter, r *http.Request, person int64, remember map[string]string) error {
	session := s.session(r)
	if session.ID != "" {
		if err := s.book.EndSession(r.Context(), keyOf(session.ID)); err != nil {
			return err
		}
	}
	clear(session.Values)
	session.ID = ""
	session.Values[personKey], session.Values[loadedKey], session.Values[usedKey] = person, "{}", time.Time{}
	for k, v := range remember {
		session.Values[k] = v
	}
	if person == 0 {
		w.Header().Set(signedOutHeader, "1")
	}
	return session.Save(r, w)
}

// SignedIn makes a session of a person on an address such as localhost:8440,
// and returns its cookie: for tests, which need no password.
func (s *Server) SignedIn(ctx context.Context, person int64, host string) (*http.Cookie, error) {
	id, now := newID(), s.now()
	err := s.book.AddSession(ctx, store.Session{Key: keyOf(id), Person: person, Data: []byte("{}"), Used: now}, now.Add(-sessionIdle))
	return &http.Cookie{Name: cookieName(&http.Request{Host: host}), Value: id}, err
}
