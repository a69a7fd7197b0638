package decode

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// fault is what happens to a reader at an offset.
type fault int

const (
	none     fault = iota
	fails          // reading returns an error from there on
	stalls         // reading waits there until its context ends, and returns that error
	ends           // the bytes end there, before the size that was told
	becomes        // other bytes come from there on
	grows          // more bytes follow the size that was told
	dribbles       // each call returns a few bytes and no error
)

func (f fault) String() string {
	return [...]string{"nothing", "fails", "stalls", "ends", "becomes", "grows", "dribbles"}[f]
}

var errDisk = errors.New("input/output error")

// faulty is bytes that a fault befalls once it is armed.
type faulty struct {
	b     []byte
	other []byte // what they become
	at    int64
	kind  fault
	armed bool
	ctx   context.Context
	calls int
}

func (f *faulty) ReadAt(p []byte, at int64) (int, error) {
	b := f.b
	if !f.armed {
		return bytes.NewReader(b).ReadAt(p, at)
	}
	f.calls++
	switch f.kind {
	case becomes:
		b = append(append([]byte(nil), b[:f.at]...), f.other[f.at:]...)
	case grows:
		b = append(append([]byte(nil), b...), b...)
	case dribbles:
		if at >= int64(len(b)) {
			return 0, io.EOF
		}
		return copy(p[:min(len(p), 1+f.calls%4000)], b[at:]), nil
	case fails, stalls, ends:
		if at+int64(len(p)) <= f.at {
			break
		}
		n := 0
		if at < f.at {
			n = copy(p, b[at:f.at])
		}
		if f.kind == stalls {
			<-f.ctx.Done()
			return n, f.ctx.Err()
		}
		if f.kind == ends {
			return n, io.EOF
		}
		return n, errDisk
	}
	return bytes.NewReader(b).ReadAt(p, at)
}

// heard is what reading gave.
type heard struct {
	samples  []float64
	warnings []string
	err      error // nil at the end
}

// hear reads a recording. The fault is armed before the recording is opened, or after.
func hear(f *faulty, early bool, opt Options) (h heard) {
	ctx, cancel := context.WithCancel(context.Background())
	defer time.AfterFunc(time.Millisecond, cancel).Stop()
	f.ctx, f.armed = ctx, early
	s, err := openInput("take", &input{r: f, size: int64(len(f.b))}, opt)
	if err != nil {
		return heard{err: err}
	}
	f.armed = true
	buf := make([]float64, 1000)
	for {
		n, err := s.Read(buf)
		h.samples = append(h.samples, buf[:n]...)
		if err != nil {
			if err != io.EOF {
				h.err = err
			}
			h.warnings = s.Warnings()
			return h
		}
	}
}

// Whatever happens to a recording on the way, at whatever byte: no panic, no hang; what
// was heard so far and a warning, or an error that names the file; and the same each time.
func TestFaultsOnTheWay(t *testing.T) {
	options := []Options{{Rate: 22050, From: 0.1}, {}}
	if !thorough {
		options = options[:1]
	}
	for _, name := range []string{"take.wav", "take.mp3", "take22.mp3", "take.flac", "take.ogg"} {
		_, b := fixture(t, name)
		b = b[:min(len(b), 12000)]
		other := bytes.Repeat([]byte("\xFF\xFBsome other bytes"), 1+len(b)/18)
		for _, opt := range options {
			whole := hear(&faulty{b: b}, false, opt)
			if whole.err != nil || len(whole.samples) < 2000 {
				t.Fatalf("%s: %d samples, %v", name, len(whole.samples), whole.err)
			}
			for _, kind := range []fault{fails, stalls, ends, becomes, grows, dribbles} {
				n := int64(len(b))
				places := []int64{0, 60, n / 2, 1, 500, n - 1}
				if !thorough {
					places = places[:3]
				}
				for _, at := range places {
					for _, early := range []bool{true, false} {
						what := fmt.Sprintf("%s, %+v: it %v at byte %d of %d, early %v", name, opt, kind, at, n, early)
						f := faulty{b: b, other: other, at: at, kind: kind}
						again := f
						h := hear(&f, early, opt)
						checkHeard(t, what, h, whole, kind)
						if h2 := hear(&again, early, opt); !sameHeard(h, h2) {
							t.Errorf("%s: %d samples, %v, then %d, %v", what, len(h.samples), h.err, len(h2.samples), h2.err)
						}
					}
				}
			}
		}
	}
}

func checkHeard(t *testing.T, what string, h, whole heard, kind fault) {
	t.Helper()
	said := strings.Join(h.warnings, "; ")
	var e *Error
	if h.err != nil {
		if !errors.As(h.err, &e) || e.Path != "take" || e.Problem == "" || strings.Contains(e.Problem, "panic") {
			t.Errorf("%s: error %v", what, h.err)
		}
		said += h.err.Error()
	}
	if kind == becomes {
		return // anything may be heard
	}
	if len(h.samples) > len(whole.samples) {
		t.Errorf("%s: %d samples of %d", what, len(h.samples), len(whole.samples))
		return
	}
	// The filter looks ahead, across the end.
	for i := range max(0, len(h.samples)-300) {
		if h.samples[i] != whole.samples[i] {
			t.Errorf("%s: sample %d of %d differs", what, i, len(h.samples))
			return
		}
	}
	switch kind {
	case grows, dribbles:
		if !sameHeard(h, whole) {
			t.Errorf("%s: %d samples of %d, %s", what, len(h.samples), len(whole.samples), said)
		}
	case fails, stalls:
		want := errDisk
		if kind == stalls {
			want = context.Canceled
		}
		ok := strings.Contains(said, "cannot be read") && strings.Contains(said, want.Error())
		if h.err != nil {
			ok = ok && errors.Is(h.err, want)
		}
		if !ok && !sameHeard(h, whole) { // all was read before
			t.Errorf("%s: %d samples of %d, %s", what, len(h.samples), len(whole.samples), said)
		}
	case ends:
		if said == "" && len(h.samples) < len(whole.samples) {
			t.Errorf("%s: %d samples of %d and not a word", what, len(h.samples), len(whole.samples))
		}
	}
}

func sameHeard(a, b heard) bool {
	if len(a.samples) != len(b.samples) || fmt.Sprint(a.warnings, a.err) != fmt.Sprint(b.warnings, b.err) {
		return false
	}
	for i, v := range a.samples {
		if v != b.samples[i] {
			return false
		}
	}
	return true
}

// The end of a file cannot be read: what stands before it is heard all the same.
func TestBadEnd(t *testing.T) {
	for _, name := range fixtures {
		_, b := fixture(t, name)
		whole := hear(&faulty{b: b}, true, Options{})
		h := hear(&faulty{b: b, kind: fails, at: int64(len(b)) - 10}, true, Options{})
		checkHeard(t, name, h, whole, fails)
		if h.err != nil || len(h.samples) < len(whole.samples)*4/5 {
			t.Errorf("%s: %d samples of %d, warnings %q, error %v",
				name, len(h.samples), len(whole.samples), h.warnings, h.err)
		}
	}
}

// A reader that breaks its own rule and returns nothing at all is not asked for ever.
func TestReaderWithoutProgress(t *testing.T) {
	_, err := openInput("take", &input{r: idle{}, size: 1000}, Options{})
	if !errors.Is(err, io.ErrNoProgress) || !strings.HasPrefix(err.Error(), "take: it cannot be read") {
		t.Error(err)
	}
}

type idle struct{}

func (idle) ReadAt([]byte, int64) (int, error) { return 0, nil }

// A program that takes the recording and gives nothing is stopped.
func TestFFmpegStalls(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("needs a shell")
	}
	dir := t.TempDir()
	t.Setenv("PATH", dir+string(os.PathListSeparator)+os.Getenv("PATH"))
	head := filepath.Join(dir, "head.wav")
	b := riffOf(wavFormat(wavPCM, 1, 8000, 16), chunk("data", make([]byte, 100)))
	if err := os.WriteFile(head, b[:60], 0o600); err != nil {
		t.Fatal(err)
	}
	for what, script := range map[string]string{
		"when it is asked what it is": "exec sleep 100",
		"before the header":           "case \"$*\" in *-t*) cat '" + head + "';; *) exec sleep 100;; esac",
		"after the first samples":     "cat '" + head + "'; case \"$*\" in *-t*) ;; *) sleep 100;; esac",
	} {
		if err := os.WriteFile(filepath.Join(dir, "ffmpeg"), []byte("#!/bin/sh\n"+script+"\n"), 0o700); err != nil {
			t.Fatal(err)
		}
		within(t, 20*time.Second, what, func() {
			s := &externalSource{program: filepath.Join(dir, "ffmpeg"), path: "take.au", format: "AU"}
			s.patience = 100 * time.Millisecond
			err := s.probe()
			buf := make([]float64, 1000)
			for err == nil {
				_, err = s.read(buf)
			}
			s.close()
			if !strings.Contains(err.Error(), "ffmpeg gave nothing for 100ms") {
				t.Errorf("%s: %v", what, err)
			}
		})
	}
}
