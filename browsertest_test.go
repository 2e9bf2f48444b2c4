package main

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/cdproto/target"
	"github.com/chromedp/chromedp"
)

// browserNames are the programs that serve as the test browser, in the order
// in which they are looked for on PATH.
var browserNames = []string{"chromium", "chromium-browser", "google-chrome"}

// browserLimit ends a browser test that waits for something that never comes.
const browserLimit = 8 * time.Minute

// browser starts Chromium with a fresh profile and returns the chromedp
// context of an empty tab, for pages of the server at base (scheme and host,
// such as httptest.Server.URL). The test is skipped where there is no
// Chromium; with BARRELBOOK_BROWSER=required it fails instead.
//
// Nothing but base can be reached. At the end, the test fails for each request
// that a page or worker made elsewhere, and for each error of the tab's
// console, breaches of the content security policy included. A page that is
// itself answered with an error status is no complaint: the test says which
// status it wants.
func browser(t *testing.T, base string) context.Context {
	t.Helper()
	ctx, w := openBrowser(t, base)
	t.Cleanup(func() {
		for _, complaint := range w.list() {
			t.Errorf("browser: %s", complaint)
		}
	})
	return ctx
}

// screenshot draws the tab's page at the given width in CSS pixels and in the
// theme ("light" or "dark"), fails the test when the page is wider than that,
// and writes <name>-<width>-<theme>.png into the folder named by
// BARRELBOOK_SHOTS when that is set. The tab's own size and theme return
// afterwards.
func screenshot(t *testing.T, ctx context.Context, name string, width int64, theme string) {
	t.Helper()
	if err := chromedp.Do(ctx, emulateScreen(width, theme)); err != nil {
		t.Fatalf("set screen of %s: %v", name, err)
	}
	wide, err := chromedp.Run(ctx, chromedp.Evaluate[int64]("document.documentElement.scrollWidth"))
	if err != nil {
		t.Fatalf("measure %s: %v", name, err)
	}
	if wide > width {
		t.Errorf("%s is %d px wide on a screen of %d px", name, wide, width)
	}
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatalf("draw %s: %v", name, err)
	}
	if dir := os.Getenv("BARRELBOOK_SHOTS"); dir != "" {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatalf("make folder for screenshots: %v", err)
		}
		file := filepath.Join(dir, fmt.Sprintf("%s-%d-%s.png", name, width, theme))
		if err := os.WriteFile(file, picture, 0o644); err != nil {
			t.Fatalf("write screenshot: %v", err)
		}
	}
	if err := chromedp.Do(ctx, ownScreen()); err != nil {
		t.Fatalf("reset screen after %s: %v", name, err)
	}
}

// emulateScreen gives the tab a screen of the width, a phone's below 600 CSS
// pixels, that prefers the theme.
func emulateScreen(width int64, theme string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		screen := emulation.SetDeviceMetricsOverrideParams{
			Width: width, Height: 800, DeviceScaleFactor: 1, Mobile: width < 600,
		}
		if _, err := cdp.Call(ctx, tab, emulation.SetDeviceMetricsOverride, screen); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, tab, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}},
		})
		return err
	})
}

// ownScreen undoes emulateScreen.
func ownScreen() chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		if _, err := cdp.Call(ctx, tab, emulation.ClearDeviceMetricsOverride, cdp.Empty{}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, tab, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
		return err
	})
}

// openBrowser is browser without the verdict at the end: the caller asks the
// watch. Chromium gets the extra flags.
//
// The tab lives in a browser context of its own, whose proxy is the watch: so
// every request of its pages and workers to another place, whatever the
// protocol, arrives there and goes no further. Most of what Chromium asks on
// its own account goes to a second proxy, which refuses it without a word.
func openBrowser(t *testing.T, base string, extra ...chromedp.ExecAllocatorOption) (context.Context, *watch) {
	t.Helper()
	program := findBrowser(t)
	server, err := url.Parse(base)
	if err != nil || server.Host == "" {
		t.Fatalf("browser: %q is not the address of a server", base)
	}
	w := &watch{host: server.Host, documents: map[network.RequestID]bool{}}
	outside := httptest.NewServer(w)
	t.Cleanup(outside.Close)
	nowhere := httptest.NewServer(http.NotFoundHandler())
	t.Cleanup(nowhere.Close)

	profile := t.TempDir()
	limited, cancel := context.WithTimeout(context.Background(), browserLimit)
	t.Cleanup(cancel)
	allocated, cancel := chromedp.NewExecAllocator(limited, append(browserFlags(program, profile, nowhere.URL), extra...)...)
	t.Cleanup(cancel)
	whole, cancel := chromedp.NewContext(allocated)
	t.Cleanup(cancel)
	t.Cleanup(func() { closeBrowser(t, whole, profile) })
	if err := chromedp.Do(whole); err != nil {
		t.Fatalf("start %s: %v", program, err)
	}
	ctx, cancel := chromedp.NewContext(whole, chromedp.WithNewBrowserContext(func(p *target.CreateBrowserContextParams) {
		p.ProxyServer = outside.URL
		p.ProxyBypassList = "<-loopback>;" + server.Host
	}))
	t.Cleanup(cancel)
	if err := chromedp.Listen(ctx, w.event); err != nil {
		t.Fatalf("watch the browser: %v", err)
	}
	return ctx, w
}

// findBrowser returns the path of a Chromium, or skips or fails the test.
func findBrowser(t *testing.T) string {
	t.Helper()
	for _, name := range browserNames {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	missing := "no Chromium found on PATH as " + strings.Join(browserNames, ", ")
	if os.Getenv("BARRELBOOK_BROWSER") == "required" {
		t.Fatalf("%s, and BARRELBOOK_BROWSER=required", missing)
	}
	t.Skipf("%s: browser test skipped", missing)
	return ""
}

// browserFlags starts the program without a window, with an empty profile, and
// with as little traffic of its own as can be had.
func browserFlags(program, profile, proxy string) []chromedp.ExecAllocatorOption {
	flags := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(program),
		chromedp.UserDataDir(profile),
		chromedp.ProxyServer(proxy),
		chromedp.Flag("disable-features", "AutofillServerCommunication,OptimizationHints,Translate"),
	}
	for _, name := range []string{
		"headless", "no-sandbox", "disable-gpu", "disable-quic", "no-first-run",
		"disable-background-networking", "disable-component-update", "disable-sync",
		"disable-client-side-phishing-detection", "disable-domain-reliability",
		"disable-dev-shm-usage",
	} {
		flags = append(flags, chromedp.Flag(name, true))
	}
	return flags
}

// closeBrowser ends the browser and empties its profile. Chromium's helpers
// may write there for a moment after it has gone, so a few tries are made.
func closeBrowser(t *testing.T, whole context.Context, profile string) {
	patient, cancel := context.WithTimeout(whole, 20*time.Second)
	defer cancel()
	if err := chromedp.Cancel(patient); err != nil {
		t.Logf("close browser: %v", err)
	}
	for range 50 {
		if os.RemoveAll(profile) == nil {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// watch collects what a test's pages must not do. The tab tells it what its
// pages ask for; and it is the tab's proxy, where whatever was meant for
// elsewhere arrives and is refused. An encrypted request, of which a proxy sees
// only the host, is a complaint when the tab tells of it, since Chromium makes
// some of its own: so that of a worker is refused but not told. The errors of a
// worker's console are not seen either. It is safe for concurrent use.
type watch struct {
	host       string // the test server's, with its port
	mu         sync.Mutex
	documents  map[network.RequestID]bool // requests for pages, whose status is the test's affair
	complaints []string
}

// ServeHTTP refuses a request to elsewhere, and records it when it is plain.
func (w *watch) ServeHTTP(rw http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodConnect {
		w.visit(r.RequestURI)
	}
	http.Error(rw, "outside the test", http.StatusForbidden)
}

// event records what the tab's console calls an error.
func (w *watch) event(ev any) {
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		w.visit(e.Request.URL)
		if e.Type == network.ResourceTypeDocument {
			w.mu.Lock()
			w.documents[e.RequestID] = true
			w.mu.Unlock()
		}
	case *network.EventWebSocketCreated:
		w.visit(e.URL)
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError && !w.isDocument(e.Entry.NetworkRequestID) {
			w.complain("%s: %s (%s)", e.Entry.Source, e.Entry.Text, e.Entry.URL)
		}
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeAssert {
			w.complain("console: %s", consoleText(e.Args))
		}
	case *runtime.EventExceptionThrown:
		thrown := e.ExceptionDetails
		w.complain("script: %s %s", thrown.Text, consoleText([]*runtime.RemoteObject{thrown.Exception}))
	}
}

// visit records an address that a page asks for, unless it is the server's or
// none of the network's, such as data: or blob:.
func (w *watch) visit(address string) {
	u, err := url.Parse(address)
	switch {
	case err != nil:
		w.complain("address: %v", err)
	case u.Host != w.host && slices.Contains([]string{"http", "https", "ws", "wss"}, u.Scheme):
		w.complain("request to elsewhere: %s", address)
	}
}

// list returns the complaints so far, each once.
func (w *watch) list() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.complaints)
}

func (w *watch) complain(format string, args ...any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	complaint := fmt.Sprintf(format, args...)
	if !slices.Contains(w.complaints, complaint) {
		w.complaints = append(w.complaints, complaint)
	}
}

func (w *watch) isDocument(id network.RequestID) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.documents[id]
}

// consoleText writes the arguments of a console call one after the other:
// objects by their description, everything else as JSON.
func consoleText(args []*runtime.RemoteObject) string {
	words := make([]string, len(args))
	for i, arg := range args {
		switch {
		case arg == nil:
		case arg.Description != "":
			words[i] = arg.Description
		default:
			words[i] = string(arg.Value)
		}
	}
	return strings.Join(words, " ")
}
