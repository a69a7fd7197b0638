package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// pageBrowser is a browser in which a page is open.
type pageBrowser struct {
	t         *testing.T
	engine    browserEngine
	ctx       context.Context // of Chromium; nil for others
	downloads string

	lock     sync.Mutex
	troubles []string // what the page wrote to the console, and what it fetched
}

// browserEngine is what a browser of one make does.
type browserEngine interface {
	navigate(url string) error
	reload() error
	eval(js string) ([]byte, error) // the value of an expression as JSON; promises are awaited
	do(js string) error             // runs statements
	press(key string, control bool) error
	click(selector string) error // the middle of an element
	size(width, height int64) error
}

// openBrowser starts Chromium without a window. When the test ends, anything that its
// pages complained of fails it, and so does anything that they fetched.
func openBrowser(t *testing.T) *pageBrowser {
	t.Helper()
	b := &pageBrowser{t: t, downloads: t.TempDir()}
	c := openChromium(t, b.downloads, b.heard)
	b.engine, b.ctx = c, c.ctx
	t.Cleanup(b.complain)
	return b
}

// inBrowsers runs a test in Chromium and in Firefox.
func inBrowsers(t *testing.T, test func(*testing.T, *pageBrowser)) {
	t.Run("chromium", func(t *testing.T) { test(t, openBrowser(t)) })
	t.Run("firefox", func(t *testing.T) {
		b := &pageBrowser{t: t, downloads: t.TempDir()}
		b.engine = openFirefox(t, b.downloads, b.heard)
		t.Cleanup(b.complain)
		test(t, b)
	})
}

// heard notes what a page wrote to the console and what it fetched, but for files here and
// its own sound; one of them is empty.
func (b *pageBrowser) heard(console, fetched string) {
	scheme, _, _ := strings.Cut(fetched, ":")
	if console == "" && (scheme == "file" || scheme == "blob" || scheme == "data" || scheme == "about") {
		return
	}
	if console == "" {
		console = "fetched: " + fetched
	}
	b.lock.Lock()
	defer b.lock.Unlock()
	b.troubles = append(b.troubles, console)
}

// noted takes what was noted.
func (b *pageBrowser) noted() []string {
	b.lock.Lock()
	defer b.lock.Unlock()
	told := b.troubles
	b.troubles = nil
	return told
}

// complain fails the test for what was noted.
func (b *pageBrowser) complain() {
	for _, s := range b.noted() {
		b.t.Errorf("the console says: %s", s)
	}
}

func (b *pageBrowser) check(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

// visit opens a file.
func (b *pageBrowser) visit(path string) {
	b.t.Helper()
	b.check(b.engine.navigate((&url.URL{Scheme: "file", Path: filepath.ToSlash(path)}).String()))
}

// open a page from its file, as one that was never open before.
func (b *pageBrowser) open(path string) {
	b.t.Helper()
	b.visit(path)
	if eval[int](b, "localStorage.length") > 0 {
		b.do("localStorage.clear()")
		b.check(b.engine.reload())
	}
	b.until(`document.querySelector("#sheet button")`)
}

func (b *pageBrowser) reload() {
	b.t.Helper()
	b.check(b.engine.reload())
	b.until(`document.querySelector("#sheet button")`)
}

// eval is the value of a JavaScript expression; promises are awaited.
func eval[T any](b *pageBrowser, js string) T {
	b.t.Helper()
	var v T
	text, err := b.engine.eval(js)
	if err == nil {
		err = json.Unmarshal(text, &v)
	}
	if err != nil {
		b.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// do runs JavaScript.
func (b *pageBrowser) do(js string) {
	b.t.Helper()
	if err := b.engine.do(js); err != nil {
		b.t.Fatalf("%s: %v", js, err)
	}
}

// until waits for something to become true.
func (b *pageBrowser) until(js string) {
	b.t.Helper()
	for range 400 {
		if eval[bool](b, "Boolean("+js+")") {
			return
		}
		time.Sleep(25 * time.Millisecond)
	}
	b.t.Fatalf("never came true: %s", js)
}

func (b *pageBrowser) press(key string) { b.t.Helper(); b.check(b.engine.press(key, false)) }

func (b *pageBrowser) click(selector string) { b.t.Helper(); b.check(b.engine.click(selector)) }

func (b *pageBrowser) size(width, height int64) { b.t.Helper(); b.check(b.engine.size(width, height)) }

// set fills in a field.
func (b *pageBrowser) set(selector, value string) {
	b.t.Helper()
	b.do(fmt.Sprintf(`{
		const field = document.querySelector(%q);
		field.value = %q;
		field.dispatchEvent(new Event("change"));
	}`, selector, value))
}

// chooseNote clicks on a note of the sheet, counted from 1.
func (b *pageBrowser) chooseNote(n int) {
	b.t.Helper()
	b.do(fmt.Sprintf(`document.querySelectorAll("#sheet li button")[%d].click()`, n-1))
}

// chosen is the chosen note as the sheet shows it.
func (b *pageBrowser) chosen() string {
	b.t.Helper()
	return eval[string](b, `document.querySelector("#sheet [aria-current] b").textContent`)
}

// save clicks on the button and returns the file that was downloaded.
func (b *pageBrowser) save() string {
	b.t.Helper()
	b.click("#save")
	for range 200 {
		files, err := filepath.Glob(filepath.Join(b.downloads, "*.tab"))
		b.check(err)
		if len(files) == 1 {
			text, err := os.ReadFile(files[0])
			b.check(err)
			if len(text) > 0 { // until then the browser only holds the name
				b.check(os.Remove(files[0]))
				return string(text)
			}
		}
		time.Sleep(25 * time.Millisecond)
	}
	b.t.Fatal("no file was downloaded")
	return ""
}
