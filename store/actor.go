package store

import "context"

// Actor is who does something to the book: a person, zero where nobody is
// signed in, and the device they do it on.
type Actor struct {
	Person int64
	Name   string
	Device string
}

type actorKey struct{}

// As notes on a context who acts; what is saved with it carries their name.
func As(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, actorKey{}, a)
}

// actor is who acts on a context; the zero Actor where nobody was noted, as
// with a command at the laptop.
func actor(ctx context.Context) Actor {
	a, _ := ctx.Value(actorKey{}).(Actor)
	return a
}
