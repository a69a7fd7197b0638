package main

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"blowdraw/decode/programs"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// pageBrowser is a Chromium in which a page is open.
type pageBrowser struct {
	t         *testing.T
	ctx       context.Context
	downloads string

	lock     sync.Mutex
	troubles []string // what the page wrote to the console
}

// openBrowser starts Chromium without a window. When the test ends, anything that its
// pages complained of fails it.
func openBrowser(t *testing.T) *pageBrowser {
	t.Helper()
	programs.Need(t, "chromium")
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("chromium"),
		chromedp.NoSandbox, chromedp.WindowSize(1280, 900))
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	ctx, stop = context.WithTimeout(ctx, 5*time.Minute)
	t.Cleanup(stop)
	b := &pageBrowser{t: t, ctx: ctx, downloads: t.TempDir()}
	b.check(chromedp.Listen(ctx, b.listen))
	_, err := chromedp.Call(ctx, runtime.Enable, cdp.Empty{})
	b.check(err)
	_, err = chromedp.Call(ctx, log.Enable, cdp.Empty{})
	b.check(err)
	_, err = chromedp.CallBrowser(ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: b.downloads,
	})
	b.check(err)
	t.Cleanup(func() {
		b.lock.Lock()
		defer b.lock.Unlock()
		for _, s := range b.troubles {
			t.Errorf("the console says: %s", s)
		}
	})
	return b
}

func (b *pageBrowser) listen(event any) {
	says := ""
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		says = e.ExceptionDetails.Text
		if x := e.ExceptionDetails.Exception; x != nil {
			says += " " + x.Description
		}
	case *runtime.EventConsoleAPICalled:
		says = fmt.Sprint(e.Type)
	case *log.EventEntryAdded:
		says = e.Entry.Text
	default:
		return
	}
	b.lock.Lock()
	defer b.lock.Unlock()
	b.troubles = append(b.troubles, says)
}

func (b *pageBrowser) check(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

// open a page from its file.
func (b *pageBrowser) open(path string) {
	b.t.Helper()
	b.check(chromedp.Do(b.ctx, chromedp.Navigate((&url.URL{Scheme: "file", Path: path}).String())))
	b.until(`document.querySelector("#sheet button")`)
}

func (b *pageBrowser) reload() {
	b.t.Helper()
	b.check(chromedp.Do(b.ctx, chromedp.Reload()))
	b.until(`document.querySelector("#sheet button")`)
}

// eval is the value of a JavaScript expression.
func eval[T any](b *pageBrowser, js string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](js))
	if err != nil {
		b.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// do runs JavaScript.
func (b *pageBrowser) do(js string) { b.t.Helper(); eval[chromedp.Void](b, js) }

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

func (b *pageBrowser) press(key string, how ...chromedp.KeyOption) {
	b.t.Helper()
	b.check(chromedp.Do(b.ctx, chromedp.KeyEvent(key, how...)))
}

func (b *pageBrowser) click(selector string) {
	b.t.Helper()
	b.check(chromedp.Do(b.ctx, chromedp.Click(selector)))
}

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
