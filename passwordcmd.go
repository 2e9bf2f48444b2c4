package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"barrelbook/server"
	"barrelbook/store"
)

// password gives a person a fresh password, for when nobody can sign in to do
// that any more.
func password(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("password", "NAME", out)
	if err := parse(set, args); err != nil {
		return err
	}
	name := strings.Join(set.Args(), " ")
	if name == "" {
		return fmt.Errorf("give the name of who forgot the password: %w", errUsage)
	}
	book, err := openThere(ctx, *path)
	if err != nil {
		return err
	}
	return errors.Join(renew(ctx, book, name, out), book.Close())
}

// openThere opens a book for writing that must be there already.
func openThere(ctx context.Context, path string) (*store.Book, error) {
	there, err := store.OpenReadOnly(ctx, path)
	if errors.Is(err, store.ErrNoBook) {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	if err == nil {
		err = there.Close()
	}
	book, openErr := store.Open(ctx, path)
	if openErr != nil {
		return nil, fmt.Errorf("open %s: %w", path, errors.Join(openErr, err))
	}
	return book, nil
}

func renew(ctx context.Context, book *store.Book, name string, out io.Writer) error {
	person, _, err := book.PasswordOf(ctx, name)
	if errors.Is(err, store.ErrNotFound) {
		return noSuchPerson(ctx, book, name)
	}
	if err != nil {
		return err
	}
	fresh := server.FreshPassword()
	if err := book.SetPassword(ctx, person.ID, store.Password{Hash: server.HashPassword(fresh), Given: true}); err != nil {
		return err
	}
	fmt.Fprintf(out, "The password of %s is now: %s\nIt lets them in once, within %d days, to choose one of their own.\n", person.Name, fresh, store.GivenDays)
	return nil
}

// noSuchPerson says who there is.
func noSuchPerson(ctx context.Context, book *store.Book, name string) error {
	people, err := book.People(ctx)
	if err != nil {
		return err
	}
	names := make([]string, len(people))
	for i, p := range people {
		names[i] = p.Name
	}
	if len(names) == 0 {
		return fmt.Errorf("the book has no people yet: %w", store.ErrNotFound)
	}
	return fmt.Errorf("nobody is called %s, only %s: %w", name, strings.Join(names, ", "), store.ErrNotFound)
}
