package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"barrelbook/server"
	"barrelbook/views"
)

// trust tells how tablets come to trust this computer. It only reads the
// certificate, so the program may be serving the book meanwhile.
func trust(_ context.Context, args []string, out io.Writer) error {
	set, path := flags("trust", "", out)
	addr := set.String("lan-addr", lanAddress, "the `address` for tablets, as serve has it")
	if err := parse(set, args); err != nil {
		return err
	}
	host, port, err := lanPorts(*addr)
	if err != nil {
		return err
	}
	if set.NArg() > 0 {
		return fmt.Errorf("trust takes no %q: %w", set.Arg(0), errUsage)
	}
	cert, err := server.ReadCertificate(server.AuthorityFolder(*path))
	if err != nil {
		return fmt.Errorf("%w. It is made by barrelbook serve -lan", err)
	}
	network, err := onCard(host, server.LookNetwork)()
	if err != nil {
		return err
	}
	return printTrust(out, server.Trust{Certificate: cert, Network: network, BookPort: strconv.Itoa(port), TrustPort: strconv.Itoa(port + 1)}, time.Now())
}

func printTrust(out io.Writer, t server.Trust, now time.Time) error {
	var b strings.Builder
	offers := t.Offers()
	if len(offers) == 0 {
		fmt.Fprintln(&b, "There is no network with private addresses at the moment, so there is no address to open.")
	} else {
		code, err := views.QRText(offers[0].Trust)
		if err != nil {
			return err
		}
		fmt.Fprintf(&b, "While barrelbook serve -lan runs, scan this with the tablet, or open %s on it:\n\n%s\n", offers[0].Trust, onPaper(code, isTerminal(out)))
		for _, o := range offers[1:] {
			fmt.Fprintf(&b, "By network card %s: %s\n", o.Card, o.Trust)
		}
		fmt.Fprintln(&b, "Afterwards the book is at", bookAddresses(offers))
	}
	if name := t.Network.Name(); name != "" && len(offers) > 0 {
		fmt.Fprintf(&b, "Many tablets also find it at https://%s:%s\n", name, t.BookPort)
	}
	fmt.Fprintf(&b, "\nThe certificate is called %s.\nIts SHA-256 fingerprint is\n    %s\nCompare it with what the tablet shows, perhaps in pairs or with colons. Where they differ, do not trust it.\n", t.Title(), strings.Join(t.Fingerprint(), "\n    "))
	fmt.Fprintln(&b, ends(t, now))
	fmt.Fprintln(&b, "Until a tablet trusts it, it works while connected but cannot work offline.")
	for _, g := range t.Guides() {
		fmt.Fprintf(&b, "\n%s\n", g.System)
		for i, step := range g.Steps {
			fmt.Fprintf(&b, "  %d. %s\n", i+1, step)
		}
	}
	fmt.Fprintln(&b, "\n(What menus are called is from memory.)")
	_, err := io.WriteString(out, b.String())
	return err
}

// ends says when the authority ends, and what to do when that is soon.
func ends(t server.Trust, now time.Time) string {
	day := t.Certificate.NotAfter.UTC().Format(time.DateOnly)
	switch {
	case now.After(t.Certificate.NotAfter):
		return "It ended on " + day + ". Move its folder away and start barrelbook serve -lan again: a new one is made, which every tablet must trust anew."
	case server.EndsSoon(t.Certificate, now):
		return "It ends on " + day + ", which is soon. Move its folder away on a quiet day and start barrelbook serve -lan again: a new one is made, which every tablet must trust anew."
	}
	return "It ends on " + day + "."
}

// onPaper makes a terminal show a code black on white, whatever its colours.
func onPaper(code string, terminal bool) string {
	if !terminal {
		return code
	}
	const paper, plain = "\x1b[38;2;0;0;0;48;2;255;255;255m", "\x1b[0m"
	var b strings.Builder
	for line := range strings.Lines(code) {
		b.WriteString(paper + strings.TrimSuffix(line, "\n") + plain + "\n")
	}
	return b.String()
}

func isTerminal(out io.Writer) bool {
	file, isFile := out.(*os.File)
	if !isFile {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
