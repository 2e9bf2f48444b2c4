package store

import (
	"context"
	"errors"
	"fmt"
)

// Receipt is the book's note that it has a form which may be sent again.
type Receipt struct {
	UID        string // made by whoever sends the form
	Form       string // the address it is sent to
	Digest     string // of the address and all that was typed
	Answer     string // the address of what was saved
	ReceivedAt string
	Device     string // empty for a form that did not wait on a tablet
	DeviceTime string // when it was filled in, by the tablet's clock
	Skew       *int   // seconds that the tablet's clock was ahead; nil where it was not told
	Page       string // the build of the page it was filled in on
	Person     string // whose session sent it
	TypedBy    string // who was signed in when it was put into the tablet's outbox, as the tablet says; "" where it does not
}

type receiptKey struct{}

// Receiving notes on a context that what is saved with it is this form. The
// receipt is kept in the transaction that saves it: both, or neither.
func Receiving(ctx context.Context, r Receipt) context.Context {
	if r.Device != "" {
		a := actor(ctx)
		a.Device = r.Device
		ctx = As(ctx, a)
	}
	return context.WithValue(ctx, receiptKey{}, r)
}

// keepReceipt keeps the receipt of a context, where it carries one. The same
// form twice at once is no fault; another form of the same name is.
func keepReceipt(ctx context.Context, t *tx) error {
	r, ok := ctx.Value(receiptKey{}).(Receipt)
	if !ok {
		return nil
	}
	kept, err := findReceipt(ctx, t, r.UID)
	if err == nil {
		return kept.Same(r)
	}
	if !errors.Is(err, ErrNotFound) {
		return err
	}
	if _, err := t.insert(ctx, `INSERT INTO outbox_receipt (uid, form, digest, answer, received_at, device, device_time, skew, page, person, typed_by)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, r.UID, r.Form, r.Digest, t.answer, t.at, r.Device, r.DeviceTime, r.Skew, r.Page, actor(ctx).Name, r.TypedBy); err != nil {
		return fmt.Errorf("keep receipt: %w", err)
	}
	return nil
}

// Same refuses a form that has the name of the one received, yet says
// something else.
func (r Receipt) Same(sent Receipt) error {
	if r.Digest == sent.Digest {
		return nil
	}
	return Invalid{{Href: r.Answer, Message: "the book has this sheet already, with other things on it than these; nothing was saved. Look at the one in the book, and correct it there"}}
}

// Receipt finds the receipt of a form by the name its sender gave it.
func (b *Book) Receipt(ctx context.Context, uid string) (Receipt, error) {
	return findReceipt(ctx, b.read, uid)
}

func findReceipt(ctx context.Context, q querier, uid string) (Receipt, error) {
	r, err := one(ctx, q, func(row scanner, d *Receipt) error {
		return row.Scan(&d.UID, &d.Form, &d.Digest, &d.Answer, &d.ReceivedAt, &d.Device, &d.DeviceTime, &d.Skew, &d.Page, &d.Person, &d.TypedBy)
	}, "SELECT uid, form, digest, answer, received_at, device, device_time, skew, page, person, typed_by FROM outbox_receipt WHERE uid = ?", uid)
	if err != nil {
		return r, fmt.Errorf("find receipt: %w", err)
	}
	return r, nil
}
