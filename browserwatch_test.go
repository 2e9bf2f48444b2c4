package main

import (
	"fmt"
	"image/png"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestBrowser shows that the harness can lead a form through the browser, that
// a page answered with 422 is no complaint, and that screenshots are drawn.
func TestBrowser(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			w.WriteHeader(http.StatusUnprocessableEntity)
		}
		fmt.Fprintf(w, `<!doctype html><title>%s</title><link rel="icon" href="data:,">
			<meta name="viewport" content="width=device-width">
			<style>@media (prefers-color-scheme: dark) { body { background: black; color: white } }</style>
			<form method="post"><input name="bore" value="%s"><button>Save</button></form>`, r.Method, r.FormValue("bore"))
	}))
	t.Cleanup(server.Close)
	ctx := browser(t, server.URL)
	if err := chromedp.Do(ctx,
		chromedp.Navigate(server.URL),
		chromedp.SendKeys(chromedp.CSS("input"), "5.2535"),
	); err != nil {
		t.Fatal(err)
	}
	answer, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS("button")))
	if err != nil {
		t.Fatal(err)
	}
	if answer.Status != http.StatusUnprocessableEntity {
		t.Errorf("status %d, want 422", answer.Status)
	}
	typed, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.title + " " + document.querySelector("input").value`))
	if err != nil || typed != "POST 5.2535" {
		t.Errorf("page shows %q (%v), want the number that was typed", typed, err)
	}
	t.Setenv("BARRELBOOK_SHOTS", t.TempDir())
	for _, width := range []int64{360, 768, 1366} {
		for _, theme := range []string{"light", "dark"} {
			screenshot(t, ctx, "form", width, theme)
			checkShot(t, fmt.Sprintf("form-%d-%s.png", width, theme), int(width), theme == "dark")
		}
	}
}

// checkShot wants a picture of the width whose top left corner is dark or not.
func checkShot(t *testing.T, name string, width int, dark bool) {
	t.Helper()
	file, err := os.Open(filepath.Join(os.Getenv("BARRELBOOK_SHOTS"), name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	picture, err := png.Decode(file)
	if err != nil {
		t.Fatalf("read %s: %v", name, err)
	}
	red, _, _, _ := picture.At(0, 0).RGBA()
	if got := picture.Bounds().Dx(); got != width || (red < 0x8000) != dark {
		t.Errorf("%s is %d px wide with red %#x in the corner", name, got, red)
	}
}

// TestBrowserComplains shows that what a page or its worker must not do is
// seen, and stays within the test.
func TestBrowserComplains(t *testing.T) {
	neighbour := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		t.Errorf("%s reached the server next door", r.URL)
	}))
	t.Cleanup(neighbour.Close)
	pages := map[string]string{
		"/image":  `<img src="http://elsewhere.test/dot.png">`,
		"/secure": `<img src="https://elsewhere.test/dot.png">`,
		"/next":   `<img src="` + neighbour.URL + `/dot.png">`,
		"/socket": `<script>new WebSocket("ws://elsewhere.test/socket")</script>`,
		"/error":  `<script>console.error("worn", 3)</script>`,
		"/throw":  `<script>throw new Error("stuck")</script>`,
		"/lost":   `<script src="/none.js"></script>`,
		"/policy": `<p style="color: red">inline</p>`,
		"/worker": `<script>ready = navigator.serviceWorker.register("/worker.js").then(() => navigator.serviceWorker.ready)</script>`,
		"/clean":  `<script>console.log("fine"); console.warn("well")</script>`,
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch page, known := pages[r.URL.Path]; {
		case known:
			if r.URL.Path == "/policy" {
				w.Header().Set("Content-Security-Policy", "style-src 'self'")
			}
			fmt.Fprintf(w, `<!doctype html><title>page</title><link rel="icon" href="data:,">%s`, page)
		case r.URL.Path == "/worker.js":
			w.Header().Set("Content-Type", "text/javascript")
			fmt.Fprint(w, `oninstall = e => e.waitUntil(fetch("http://elsewhere.test/worker").catch(() => 0))`)
		default:
			http.NotFound(w, r)
		}
	}))
	t.Cleanup(server.Close)
	ctx, w := openBrowser(t, server.URL)
	for _, c := range []struct{ path, want string }{
		{"/image", "elsewhere: http://elsewhere.test/dot.png"},
		{"/secure", "elsewhere: https://elsewhere.test/dot.png"},
		{"/next", "elsewhere: " + neighbour.URL},
		{"/socket", "elsewhere: ws://elsewhere.test/socket"},
		{"/error", `console: "worn" 3`},
		{"/throw", "Error: stuck"},
		{"/lost", "none.js"},
		{"/policy", "Content Security Policy"},
		{"/worker", "elsewhere: http://elsewhere.test/worker"},
		{"/clean", ""},
	} {
		before := len(w.list())
		settled := chromedp.Evaluate[bool]("Promise.resolve(window.ready).then(() => true)", chromedp.EvalAwaitPromise)
		if err := chromedp.Do(ctx, chromedp.Navigate(server.URL+c.path)); err != nil {
			t.Fatalf("%s: %v", c.path, err)
		}
		if _, err := chromedp.Run(ctx, settled); err != nil {
			t.Fatalf("%s: %v", c.path, err)
		}
		got := strings.Join(w.list()[before:], "\n")
		if !strings.Contains(got, c.want) || (c.want == "" && got != "") {
			t.Errorf("%s: complaints %q, want %q", c.path, got, c.want)
		}
	}
}
