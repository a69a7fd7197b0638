package main

import (
	"bufio"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"blowdraw/decode/programs"

	"github.com/chromedp/chromedp/kb"
	"golang.org/x/net/websocket"
)

// firefox is a Firefox without a window, spoken to by WebDriver BiDi (W3C Working Draft, 2025).
type firefox struct {
	conn    *websocket.Conn
	last    int    // number of the last command
	context string // of the tab
	answers chan bidiMessage
}

// bidiMessage is what a browser says: the answer to a command, or an event.
type bidiMessage struct {
	Type    string // success, error or event
	ID      int
	Result  json.RawMessage
	Error   string
	Message string
	Method  string // of an event
	Params  json.RawMessage
}

// firefoxSettings are those that a profile for tests needs: files are saved without a question, sound
// begins without a press of a key, and silently, since Firefox plays nothing aloud without a sound device.
const firefoxSettings = `user_pref("browser.download.folderList", 2);
user_pref("browser.download.dir", %q);
user_pref("browser.download.useDownloadDir", true);
user_pref("browser.download.always_ask_before_handling_new_types", false);
user_pref("browser.download.alwaysOpenPanel", false);
user_pref("media.autoplay.default", 0);
user_pref("media.default_volume", "0.0");
user_pref("app.normandy.enabled", false);
user_pref("app.update.disabledForTesting", true);
`

// openFirefox starts Firefox.
func openFirefox(t *testing.T, downloads string, heard func(console, fetched string)) browserEngine {
	t.Helper()
	programs.Need(t, "firefox-esr")
	profile, err := os.MkdirTemp("", "blowdraw-firefox")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(profile) }) // it may still write there
	put(t, profile, "user.js", fmt.Appendf(nil, firefoxSettings, filepath.ToSlash(downloads)))
	const origin = "http://127.0.0.1"
	command := exec.CommandContext(t.Context(), "firefox-esr", "--headless", "--no-remote", "--profile", profile,
		"--remote-debugging-port", "0", "--remote-allow-origins", origin)
	says, err := command.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = command.Wait() })
	lines := bufio.NewScanner(says)
	address := ""
	for address == "" && lines.Scan() {
		_, address, _ = strings.Cut(lines.Text(), "WebDriver BiDi listening on ")
	}
	if address == "" {
		t.Fatal("Firefox does not say where it listens")
	}
	go func() {
		for lines.Scan() { // so that it can go on talking
		}
	}()
	f := &firefox{answers: make(chan bidiMessage)}
	if f.conn, err = websocket.Dial(address+"/session", "", origin); err != nil {
		t.Fatalf("speaking to Firefox: %v", err)
	}
	t.Cleanup(func() { _ = f.conn.Close() })
	go f.listen(heard)
	if err := f.begin(); err != nil {
		t.Fatal(err)
	}
	return f
}

// object is a value of JSON.
type object map[string]any

func (f *firefox) begin() error {
	if err := f.send("session.new", object{"capabilities": object{}}, nil); err != nil {
		return err
	}
	if err := f.send("session.subscribe",
		object{"events": []string{"log.entryAdded", "network.beforeRequestSent"}}, nil); err != nil {
		return err
	}
	var tree struct {
		Contexts []struct{ Context string }
	}
	if err := f.send("browsingContext.getTree", object{}, &tree); err != nil {
		return err
	}
	if len(tree.Contexts) == 0 {
		return errors.New("Firefox has no tab")
	}
	f.context = tree.Contexts[0].Context
	return nil
}

// listen hands answers to who waits for them, and tells what the page said and fetched.
func (f *firefox) listen(heard func(console, fetched string)) {
	defer close(f.answers)
	for {
		var m bidiMessage
		if err := websocket.JSON.Receive(f.conn, &m); err != nil {
			return
		}
		if m.Type != "event" {
			f.answers <- m
			continue
		}
		var p struct {
			Context string
			Text    string
			Level   string
			Request struct{ URL string }
			Source  struct{ Context string }
		}
		if json.Unmarshal(m.Params, &p) != nil || cmp.Or(p.Context, p.Source.Context) == "" {
			continue // of the browser itself
		}
		if m.Method == "log.entryAdded" {
			heard(p.Level+": "+p.Text, "")
		} else {
			heard("", p.Request.URL)
		}
	}
}

// answerWithin is how long a command may take.
const answerWithin = time.Minute

// send gives a command and reads its result, if it is wanted.
func (f *firefox) send(method string, params object, result any) error {
	f.last++
	if err := websocket.JSON.Send(f.conn, object{"id": f.last, "method": method, "params": params}); err != nil {
		return fmt.Errorf("telling Firefox %s: %w", method, err)
	}
	select {
	case m, ok := <-f.answers:
		switch {
		case !ok || m.ID != f.last:
			return fmt.Errorf("%s: Firefox has hung up", method)
		case m.Type == "error":
			return fmt.Errorf("%s: %s: %s", method, m.Error, m.Message)
		case result != nil:
			return json.Unmarshal(m.Result, result)
		}
		return nil
	case <-time.After(answerWithin):
		return fmt.Errorf("%s: Firefox does not answer", method)
	}
}

func (f *firefox) navigate(url string) error {
	return f.send("browsingContext.navigate",
		object{"context": f.context, "url": url, "wait": "complete"}, nil)
}

func (f *firefox) reload() error {
	return f.send("browsingContext.reload", object{"context": f.context, "wait": "complete"}, nil)
}

func (f *firefox) eval(js string) ([]byte, error) {
	return f.run("Promise.resolve(" + js + ").then((v) => JSON.stringify(v) ?? 'null')")
}

func (f *firefox) do(js string) error {
	_, err := f.run(js + ";\n''")
	return err
}

// run is the text that a script ends with, once it is there.
func (f *firefox) run(js string) ([]byte, error) {
	var r struct {
		Result           struct{ Value string }
		ExceptionDetails struct{ Text string }
	}
	err := f.send("script.evaluate", object{"expression": js, "awaitPromise": true,
		"target": object{"context": f.context}, "userActivation": true}, &r)
	if err == nil && r.ExceptionDetails.Text != "" {
		err = errors.New(r.ExceptionDetails.Text)
	}
	return []byte(r.Result.Value), err
}

// firefoxKeys are the keys without a letter, by WebDriver's numbers for them.
var firefoxKeys = map[string]string{
	kb.ArrowLeft: "\ue012", kb.ArrowRight: "\ue014", kb.Escape: "\ue00c",
}

func (f *firefox) press(key string, control bool) error {
	key = cmp.Or(firefoxKeys[key], key)
	actions := []object{{"type": "keyDown", "value": key}, {"type": "keyUp", "value": key}}
	if control {
		const ctrl = "\ue009"
		down, up := object{"type": "keyDown", "value": ctrl}, object{"type": "keyUp", "value": ctrl}
		actions = []object{down, actions[0], actions[1], up}
	}
	return f.act("key", "keys", object{}, actions)
}

func (f *firefox) click(selector string) error {
	at, err := f.eval(fmt.Sprintf(`((e) => {
		e.scrollIntoView({ block: "nearest" });
		const b = e.getBoundingClientRect();
		return [Math.round(b.x + b.width / 2), Math.round(b.y + b.height / 2)];
	})(document.querySelector(%q))`, selector))
	if err != nil {
		return err
	}
	var place [2]int
	if err := json.Unmarshal(at, &place); err != nil {
		return err
	}
	return f.act("pointer", "mouse", object{"pointerType": "mouse"}, []object{
		{"type": "pointerMove", "x": place[0], "y": place[1]},
		{"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0},
	})
}

func (f *firefox) act(kind, id string, parameters object, actions []object) error {
	source := object{"type": kind, "id": id, "actions": actions}
	if len(parameters) > 0 {
		source["parameters"] = parameters
	}
	return f.send("input.performActions", object{"context": f.context, "actions": []object{source}}, nil)
}

func (f *firefox) size(width, height int64) error {
	return f.send("browsingContext.setViewport",
		object{"context": f.context, "viewport": object{"width": width, "height": height}}, nil)
}
