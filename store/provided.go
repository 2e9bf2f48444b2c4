package store

import "context"

type providedKey struct{}

// Provided makes what is saved with a context ask first whether the book is
// still as the person who changes it knew it: an error of check ends the save,
// and comes back as it is. It is asked in the transaction, so nothing else is
// saved between; check reads the book as any page does.
func Provided(ctx context.Context, check func(ctx context.Context) error) context.Context {
	return context.WithValue(ctx, providedKey{}, check)
}

// asProvided asks what a context wants asked before it saves.
func asProvided(ctx context.Context) error {
	check, ok := ctx.Value(providedKey{}).(func(context.Context) error)
	if !ok {
		return nil
	}
	return check(ctx)
}
