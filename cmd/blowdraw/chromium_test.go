package main

import (
	"context"
	"fmt"
	"testing"
	"time"

	"blowdraw/decode/programs"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// chromium is a Chromium without a window.
type chromium struct{ ctx context.Context }

// openChromium starts Chromium; heard gets what its pages write to the console or fetch.
func openChromium(t *testing.T, downloads string, heard func(console, fetched string)) chromium {
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
	err := chromedp.Listen(ctx, func(event any) { heardBy(event, heard) })
	if err == nil {
		_, err = chromedp.Call(ctx, runtime.Enable, cdp.Empty{})
	}
	if err == nil {
		_, err = chromedp.Call(ctx, log.Enable, cdp.Empty{})
	}
	if err == nil {
		_, err = chromedp.Call(ctx, network.Enable, network.EnableParams{})
	}
	if err == nil {
		_, err = chromedp.CallBrowser(ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
			Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: downloads,
		})
	}
	if err != nil {
		t.Fatalf("starting Chromium: %v", err)
	}
	return chromium{ctx}
}

// heardBy tells of an event, if it is one of those that are told.
func heardBy(event any, heard func(console, fetched string)) {
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		says := e.ExceptionDetails.Text
		if x := e.ExceptionDetails.Exception; x != nil {
			says += " " + x.Description
		}
		heard(says, "")
	case *runtime.EventConsoleAPICalled:
		heard(fmt.Sprint(e.Type), "")
	case *log.EventEntryAdded:
		heard(e.Entry.Text, "")
	case *network.EventRequestWillBeSent:
		heard("", e.Request.URL)
	}
}

func (c chromium) navigate(url string) error { return chromedp.Do(c.ctx, chromedp.Navigate(url)) }

func (c chromium) reload() error { return chromedp.Do(c.ctx, chromedp.Reload()) }

func (c chromium) eval(js string) ([]byte, error) {
	text, err := chromedp.Run(c.ctx, chromedp.Evaluate[string](
		"Promise.resolve("+js+").then((v) => JSON.stringify(v) ?? 'null')", chromedp.EvalAwaitPromise))
	return []byte(text), err
}

func (c chromium) do(js string) error {
	_, err := chromedp.Run(c.ctx, chromedp.Evaluate[chromedp.Void](js))
	return err
}

func (c chromium) press(key string, control bool) error {
	if control {
		return chromedp.Do(c.ctx, chromedp.KeyEvent(key, chromedp.KeyModifiers(chromedp.ModifierCtrl)))
	}
	return chromedp.Do(c.ctx, chromedp.KeyEvent(key))
}

func (c chromium) click(selector string) error {
	return chromedp.Do(c.ctx, chromedp.Click(chromedp.CSS(selector)))
}

func (c chromium) size(width, height int64) error {
	return chromedp.Do(c.ctx, chromedp.EmulateViewport(width, height))
}
