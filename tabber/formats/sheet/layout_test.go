package sheet

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"blowdraw/decode/programs"
	"blowdraw/tabber/formats/invent"
	"blowdraw/tabber/tab"

	"github.com/chromedp/chromedp"
)

// measure tells what of a sheet does not fit: text that goes beyond its bar, and neighbours
// of a row that overprint.
const measure = `(() => {
	const boxes = (of) => {
		const out = [];
		const walk = document.createTreeWalker(of, NodeFilter.SHOW_TEXT);
		while (walk.nextNode()) {
			if (!walk.currentNode.textContent.trim()) continue;
			const range = document.createRange();
			range.selectNodeContents(walk.currentNode);
			out.push(range.getBoundingClientRect());
		}
		return out;
	};
	const out = [];
	const say = (bar, what) => out.push("bar " + bar.querySelector(".number").textContent + ": " + what);
	if (document.documentElement.scrollWidth > innerWidth + 1) out.push("the page is wider than the window");
	for (const bar of document.querySelectorAll(".bar:not(.none)")) {
		const right = bar.getBoundingClientRect().right;
		for (const row of [".label", ".chord", ".note, .rest", ".name", ".marks", ".count"]) {
			let last = -Infinity;
			for (const e of bar.querySelectorAll(row)) {
				const all = boxes(e);
				if (!all.length) continue;
				const from = Math.min(...all.map((b) => b.left)), to = Math.max(...all.map((b) => b.right));
				const what = e.className + " " + e.textContent;
				if (to > right + 0.5) say(bar, what + " is out by " + (to - right));
				if (from < last - 0.5) say(bar, what + " overprints by " + (last - from));
				last = to;
			}
		}
	}
	return out.slice(0, 5).join("\n");
})()`

// Measured in Chromium, nothing leaves its bar and nothing overprints: on A4 and Letter,
// on a phone, upright and lying, however dense the bar.
func TestFits(t *testing.T) {
	programs.Need(t, "chromium")
	dir := t.TempDir()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("chromium"),
		chromedp.NoSandbox)
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	ctx, stop = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(stop)
	for name, d := range map[string]tab.Document{"blues": bluesTab(t), "made up 1": barred(1),
		"made up 2": barred(2), "made up 3": barred(3), "dense": dense(t), "no bars": document(t)} {
		for _, opt := range []Options{{}, {Student: true, Notes: true}, {Large: true, Notes: true}} {
			file := filepath.Join(dir, "sheet.html")
			if err := os.WriteFile(file, []byte(written(t, d, opt)), 0o600); err != nil {
				t.Fatal(err)
			}
			for _, width := range []int64{794, 390, 1123} { // px: A4 upright, a phone, A4 lying
				address := (&url.URL{Scheme: "file", Path: file}).String()
				if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 844), chromedp.Navigate(address)); err != nil {
					t.Fatal(err)
				}
				if trouble, err := chromedp.Run(ctx, chromedp.Evaluate[string](measure)); err != nil || trouble != "" {
					t.Errorf("%s, %+v, %d px: %v %s", name, opt, width, err, trouble)
				}
			}
		}
	}
}

// barred is the n-th of the made-up tabs that has bars.
func barred(n int) tab.Document {
	for seed := uint64(0); ; seed++ {
		d := invent.Document(seed, true)
		if len(d.Bars) > 0 {
			if n--; n == 0 {
				return d
			}
		}
	}
}

// dense is a tab with bars of sixteen different notes, bends and chords among them.
func dense(t *testing.T) tab.Document {
	t.Helper()
	d := bluesTab(t)
	d.Events = nil
	for i := range 128 {
		e := barred(1).Events[0]
		e.Start = 10 + float64(i)/4
		e.End = e.Start + 0.25
		e.Actions = d.Harp.Actions(false)[i%18:][:1+i%2]
		if i%5 > 0 {
			e.Actions = e.Actions[:1]
		}
		e.Texture, e.Pitches, e.Confidence = tab.Texture(e.Actions), nil, []float64{1, 0.5}[i%2]
		d.Events = append(d.Events, e)
	}
	d.Phrases = []tab.Phrase{{Start: 10, End: 42}}
	return d
}

func ExampleWriteMarkdown() {
	fmt.Println(spoken(2, 16), spoken(3, 0), spoken(4, 12))
	// Output: 2 let 3 4 &
}
