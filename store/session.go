package store

import (
	"context"
	"fmt"
	"time"
)

// Session is what a browser is remembered by. Key is the SHA-256 of the id in
// its cookie, which the book does not know; Person is 0 while nobody is signed
// in.
type Session struct {
	Key    []byte
	Person int64
	Data   []byte
	Used   time.Time
}

// Session finds a session that was used since a moment; ErrNotFound where
// there is none.
func (b *Book) Session(ctx context.Context, key []byte, since time.Time) (Session, error) {
	s, err := one(ctx, b.read, func(r scanner, s *Session) error {
		var used string
		if err := r.Scan(&s.Key, &s.Person, &s.Data, &used); err != nil {
			return err
		}
		var err error
		s.Used, err = time.Parse(time.RFC3339, used)
		return err
	}, "SELECT key, coalesce(person_id, 0), data, used_at FROM session WHERE key = ? AND used_at >= ?", key, moment(since))
	if err != nil {
		return s, fmt.Errorf("find session: %w", err)
	}
	return s, nil
}

// AddSession keeps a new session, and forgets those that were not used since a
// moment.
func (b *Book) AddSession(ctx context.Context, s Session, since time.Time) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if _, err := t.ExecContext(ctx, "DELETE FROM session WHERE used_at < ?", moment(since)); err != nil {
			return fmt.Errorf("forget sessions: %w", err)
		}
		if _, err := t.ExecContext(ctx, "INSERT INTO session (key, person_id, data, used_at) VALUES (?, nullif(?, 0), ?, ?)", s.Key, s.Person, s.Data, moment(s.Used)); err != nil {
			return fmt.Errorf("add session: %w", err)
		}
		return nil
	})
}

// SaveSession keeps what a session remembers and when it was used. One that
// was ended meanwhile stays ended.
func (b *Book) SaveSession(ctx context.Context, s Session) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if _, err := t.ExecContext(ctx, "UPDATE session SET data = ?, used_at = ? WHERE key = ?", s.Data, moment(s.Used), s.Key); err != nil {
			return fmt.Errorf("save session: %w", err)
		}
		return nil
	})
}

// EndSession forgets a session.
func (b *Book) EndSession(ctx context.Context, key []byte) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if _, err := t.ExecContext(ctx, "DELETE FROM session WHERE key = ?", key); err != nil {
			return fmt.Errorf("end session: %w", err)
		}
		return nil
	})
}

// EndSessions signs a person out everywhere.
func (b *Book) EndSessions(ctx context.Context, person int64) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error { return t.endSessions(ctx, person) })
}

func (t *tx) endSessions(ctx context.Context, person int64) error {
	if _, err := t.ExecContext(ctx, "DELETE FROM session WHERE person_id = ?", person); err != nil {
		return fmt.Errorf("end sessions: %w", err)
	}
	return nil
}
