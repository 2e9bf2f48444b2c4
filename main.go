// Barrelbook keeps the condition records of piston-aircraft-engine cylinders:
// which serialised part sat where, for how many hours, what it measured each
// time, and whether it wears faster than a normal part for its hours.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"barrelbook/store"
)

// command is a subcommand of the program.
type command struct {
	name, what string
	run        func(ctx context.Context, args []string, out io.Writer) error
}

var commands = []command{
	{"serve", "serve the book in a browser on this machine (what happens without a command)", serve},
	{"import", "bring CSV files of history or limits into the book", importFiles},
	{"findings", "list the parts that wear faster than normal", findings},
	{"record", "write the record of a part or an engine as PDF, CSV or JSON", record},
	{"trust", "tell how a tablet comes to trust this computer", trust},
	{"backup", "copy the book, also while it is served", backup},
	{"check", "hold every record of the book against its audit", check},
	{"password", "give a person who forgot theirs a new password", password},
	{"health", "ask a running program whether it answers", health},
}

// memoryLimit is what the program tries to keep its heap below, in bytes: a
// hangar laptop has other things to do.
const memoryLimit = 180 << 20

func main() {
	debug.SetMemoryLimit(memoryLimit)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, os.Args[1:], os.Stdout)
	stop()
	switch {
	case err == nil, errors.Is(err, flag.ErrHelp):
	case errors.Is(err, errUsage):
		fmt.Fprintln(os.Stderr, "barrelbook:", err)
		os.Exit(2)
	default:
		fmt.Fprintln(os.Stderr, "barrelbook:", err)
		os.Exit(1)
	}
}

// errUsage says that the command line cannot be meant.
var errUsage = errors.New("see barrelbook help")

// run does what the command line says; without a command it serves.
func run(ctx context.Context, args []string, out io.Writer) error {
	if len(args) == 0 {
		return serve(ctx, nil, out)
	}
	for _, c := range commands {
		if c.name == args[0] {
			return c.run(store.As(ctx, store.Actor{Device: "a command on this computer"}), args[1:], out)
		}
	}
	switch args[0] {
	case "help", "-h", "-help", "--help":
		usage(out)
		return nil
	}
	if strings.HasPrefix(args[0], "-") {
		return serve(ctx, args, out)
	}
	return fmt.Errorf("there is no command %q: %w", args[0], errUsage)
}

func usage(out io.Writer) {
	fmt.Fprintln(out, "barrelbook keeps the condition records of piston-aircraft-engine cylinders.")
	for _, c := range commands {
		fmt.Fprintf(out, "  barrelbook %-9s %s\n", c.name, c.what)
	}
	fmt.Fprintln(out, "barrelbook COMMAND -h lists a command's options.")
}

// flags makes the options of a command, with the book's file among them.
func flags(name, args string, out io.Writer) (set *flag.FlagSet, book *string) {
	set = flag.NewFlagSet(name, flag.ContinueOnError)
	set.SetOutput(out)
	set.Usage = func() {
		fmt.Fprintf(out, "usage: barrelbook %s [options] %s\n", name, args)
		set.PrintDefaults()
	}
	return set, set.String("db", "barrelbook.db", "the book's `file`")
}

// parse reads a command's options; what cannot be read has been said.
func parse(set *flag.FlagSet, args []string) error {
	if err := set.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return err
		}
		return fmt.Errorf("%w: %w", err, errUsage)
	}
	return nil
}
