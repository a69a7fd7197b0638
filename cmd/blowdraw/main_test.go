package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
	"blowdraw/tabber/tab"
)

// asCommand makes the test binary behave as the program.
const asCommand = "BLOWDRAW_TEST_AS_COMMAND"

func TestMain(m *testing.M) {
	if os.Getenv(asCommand) != "" {
		main()
	}
	os.Exit(m.Run())
}

// command runs a command line in this process.
func command(args ...string) (code int, stdout, stderr string) {
	var out, trouble bytes.Buffer
	code = run(context.Background(), args, &out, &trouble)
	return code, out.String(), trouble.String()
}

// put writes a file into dir and returns its path.
func put(t *testing.T, dir, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// wavOf writes samples as a WAV file.
func wavOf(t *testing.T, x []float64) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := decode.WriteWAV(&b, decode.Clip{Rate: 22050, Samples: x}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// tone is a harmonic tone at D5 (587.33 Hz), draw 4 of a C harp.
func tone(seconds float64) []float64 {
	x := make([]float64, int(22050*seconds))
	for i := range x {
		for h := 1.0; h <= 5; h++ {
			x[i] += 0.1 / h * math.Sin(2*math.Pi*587.33*h*float64(i)/22050)
		}
	}
	return x
}

// listing of all files and folders in dir.
func listing(t *testing.T, dir string) []string {
	t.Helper()
	var names []string
	err := filepath.WalkDir(dir, func(path string, _ os.DirEntry, err error) error {
		names = append(names, path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// Every way to get it wrong ends with a clear line, at most one more that says
// what to try, the right exit code, nothing on stdout and no file left behind.
func TestTroubleIsExplained(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir) // temporary files would show up there
	sound := wavOf(t, tone(1))
	good := put(t, dir, "tone.wav", sound)
	broken := slices.Clone(sound)
	broken[22], broken[23] = 0, 0 // channels
	exists := put(t, dir, "exists.tab", []byte("mine"))
	folder := filepath.Join(dir, "folder")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		args []string // after transcribe --ear classical
		code int
		say  string
	}{
		{"missing", []string{filepath.Join(dir, "none.wav"), "--harp", "C"}, 1, "no such file"},
		{"empty", []string{put(t, dir, "empty.wav", nil), "--harp", "C"}, 1, "empty"},
		{"text", []string{put(t, dir, "text.wav", []byte("4 -4 and so on\n")), "--harp", "C"}, 1, "text"},
		{"folder", []string{folder, "--harp", "C"}, 1, "folder"},
		{"no channels", []string{put(t, dir, "zero.wav", broken), "--harp", "C"}, 1, "channels"},
		{"header only", []string{put(t, dir, "header.wav", sound[:44]), "--harp", "C"}, 1, "header.wav"},
		{"half a header", []string{put(t, dir, "half.wav", sound[:30]), "--harp", "C"}, 1, "half.wav"},
		{"no sound", []string{put(t, dir, "none-at-all.wav", wavOf(t, nil)), "--harp", "C"}, 1, "no sound"},
		{"one sample", []string{put(t, dir, "one.wav", wavOf(t, []float64{0.5})), "--harp", "C"}, 1,
			"no notes"},
		{"silence", []string{put(t, dir, "silence.wav", wavOf(t, make([]float64, 44100))), "--harp", "C"}, 1,
			"no notes"},
		{"silence to a file", []string{filepath.Join(dir, "silence.wav"), "--harp", "C", "-o",
			filepath.Join(dir, "s.tab")}, 1, "no notes"},
		{"after the end", []string{good, "--harp", "C", "--from", "10"}, 1, "0:01.0 long"},
		{"backwards", []string{good, "--harp", "C", "--from", "0.5", "--to", "0.2"}, 2, "before it starts"},
		{"no length", []string{good, "--harp", "C", "--for", "0"}, 2, "--for"},
		{"not a time", []string{good, "--harp", "C", "--from", "soon"}, 2, "soon"},
		{"two ends", []string{good, "--harp", "C", "--for", "1", "--to", "1"}, 2, "--for"},
		{"key", []string{good, "--harp", "H"}, 2, `"H"`},
		{"no harp to be heard", []string{put(t, dir, "quiet.wav", wavOf(t, make([]float64, 44100)))}, 1,
			"no notes"},
		{"layout", []string{good, "--harp", "C", "--layout", "spiral"}, 2, "spiral"},
		{"song key", []string{good, "--harp", "C", "--song-key", "X"}, 2, "--song-key"},
		{"format", []string{good, "--harp", "C", "--format", "xml"}, 2, "xml"},
		{"channel", []string{good, "--harp", "C", "--channel", "third"}, 2, "third"},
		{"side of mono", []string{good, "--harp", "C", "--channel", "side"}, 1, "one channel"},
		{"ear", []string{good, "--harp", "C", "--ear", "left"}, 2, "left"},
		{"tuning", []string{good, "--harp", "C", "--tuning", "500"}, 2, "--tuning"},
		{"tuning NaN", []string{good, "--harp", "C", "--tuning", "NaN"}, 2, "--tuning"},
		{"bpm", []string{good, "--harp", "C", "--bpm", "0"}, 2, "--bpm"},
		{"bpm NaN", []string{good, "--harp", "C", "--bpm", "NaN"}, 2, "--bpm"},
		{"flag", []string{good, "--harp", "C", "--loud"}, 2, "--loud"},
		{"no recording", []string{"--harp", "C"}, 2, "recording"},
		{"recording without a name", []string{"", "--harp", "C"}, 2, "recording is empty"},
		{"output exists", []string{good, "--harp", "C", "-o", exists}, 1, "exists"},
		{"output is a folder", []string{good, "--harp", "C", "-o", folder, "--force"}, 1, "folder"},
		{"output is a device", []string{good, "--harp", "C", "-o", os.DevNull, "--force"}, 1, "regular"},
		{"output is the recording", []string{good, "--harp", "C", "-o", good, "--force"}, 2,
			"is the recording"},
		{"output nowhere", []string{good, "--harp", "C", "-o", filepath.Join(dir, "no", "x.tab")}, 1,
			"there is no folder"},
		{"output below a file", []string{good, "--harp", "C", "-o", filepath.Join(good, "x.tab")}, 1,
			"x.tab: not a directory"},
		{"output without a name", []string{good, "--harp", "C", "-o", ""}, 2, "--output"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := listing(t, dir)
			code, stdout, stderr := command(append([]string{"transcribe", "--ear", "classical"},
				c.args...)...)
			checkTrouble(t, code, stdout, stderr, c.code, c.say)
			if after := listing(t, dir); !slices.Equal(before, after) {
				t.Errorf("files before:\n%q\nafter:\n%q", before, after)
			}
		})
	}
	if b, err := os.ReadFile(exists); err != nil || string(b) != "mine" {
		t.Errorf("the existing file became %q, %v", b, err)
	}
	if b, err := os.ReadFile(good); err != nil || !bytes.Equal(b, sound) {
		t.Errorf("the recording was changed (%v)", err)
	}
}

func checkTrouble(t *testing.T, code int, stdout, stderr string, want int, say string) {
	t.Helper()
	if code != want {
		t.Errorf("exit code %d, want %d", code, want)
	}
	if stdout != "" {
		t.Errorf("stdout: %q", stdout)
	}
	lines := strings.Split(strings.TrimSuffix(stderr, "\n"), "\n")
	if len(lines) > 2 || !strings.HasPrefix(lines[0], "blowdraw: ") || !strings.Contains(lines[0], say) {
		t.Errorf("stderr: %q; want one line with %q and at most one hint", stderr, say)
	}
	for _, l := range lines {
		if l == "" || len(l) > 300 {
			t.Errorf("stderr has a line of %d bytes: %q", len(l), l)
		}
	}
}

func TestUnknownCommand(t *testing.T) {
	code, stdout, stderr := command("sing")
	checkTrouble(t, code, stdout, stderr, exitUsage, "sing")
}

// Root may write everywhere, so the check only runs for others.
func TestUnwritableFolder(t *testing.T) {
	if os.Getuid() == 0 {
		unwritable(t, "/proc") // not even root makes files there
		return
	}
	dir := filepath.Join(t.TempDir(), "closed")
	if err := os.Mkdir(dir, 0o500); err != nil {
		t.Fatal(err)
	}
	unwritable(t, dir)
}

func unwritable(t *testing.T, dir string) {
	t.Helper()
	in := put(t, t.TempDir(), "tone.wav", wavOf(t, tone(0.5)))
	code, stdout, stderr := command("transcribe", "--ear", "classical", in, "--harp", "C", "-o",
		filepath.Join(dir, "x.tab"))
	checkTrouble(t, code, stdout, stderr, exitFailed, "can't write "+filepath.Join(dir, "x.tab"))
}

// A truncated recording is transcribed as far as it goes, with a warning.
func TestTruncated(t *testing.T) {
	sound := wavOf(t, tone(2))
	in := put(t, t.TempDir(), "cut.wav", sound[:len(sound)/2])
	code, stdout, stderr := command("transcribe", "--ear", "classical", in, "--harp", "C")
	if code != 0 || !strings.Contains(stdout, "-4") || strings.Count(stderr, "\n") != 1 ||
		!strings.Contains(stderr, "truncated after 0:01.0") {
		t.Errorf("exit code %d, stderr %q, stdout:\n%s", code, stderr, stdout)
	}
}

// 587.33 Hz is D5 (Csound's pitch table, testdata/pitch); draw 4 is the D5 of a C
// harp (common practice, no source).
func TestTranscribeToFile(t *testing.T) {
	dir := t.TempDir()
	in := put(t, dir, "tone.wav", wavOf(t, tone(1)))
	out := filepath.Join(dir, "tone.tab")
	args := []string{"transcribe", "--ear", "classical", in, "--harp", "C", "-o", out}
	for _, force := range []bool{false, true} {
		if force {
			put(t, dir, "tone.tab", bytes.Repeat([]byte("longer than the tab "), 1000))
			args = append(args, "--force")
		}
		if code, stdout, stderr := command(args...); code != 0 || stdout != "" || stderr != "" {
			t.Fatalf("exit code %d, stdout %q, stderr %q", code, stdout, stderr)
		}
		f, err := os.Open(out)
		if err != nil {
			t.Fatal(err)
		}
		d, err := tab.Parse(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		if len(d.Events) != 1 || tab.Token(d.Events[0].Actions) != "-4" || d.Recording != "tone.wav" ||
			d.SongKey != 7 {
			t.Errorf("read back: %+v", d)
		}
	}
	if files := listing(t, dir); len(files) != 3 {
		t.Errorf("files left: %q", files)
	}
}

func TestFormats(t *testing.T) {
	in := put(t, t.TempDir(), "tone.wav", wavOf(t, tone(1)))
	code, stdout, stderr := command("transcribe", "--ear", "classical", in, "--harp", "C", "--format", "json")
	var v map[string]any
	if err := json.Unmarshal([]byte(stdout), &v); code != 0 || stderr != "" || err != nil {
		t.Fatalf("exit code %d, stderr %q, %v", code, stderr, err)
	}
	if events, ok := v["events"].([]any); !ok || len(events) != 1 {
		t.Errorf("events: %v", v["events"])
	}
	code, stdout, _ = command("transcribe", "--ear", "classical", in, "--harp", "C", "--format", "csv")
	if code != 0 || strings.Count(stdout, "\n") != 2 || !strings.Contains(stdout, "-4") {
		t.Errorf("exit code %d, CSV:\n%s", code, stdout)
	}
}

// Times count from the start of the recording.
func TestSection(t *testing.T) {
	x := append(make([]float64, 3*22050), tone(1)...)
	in := put(t, t.TempDir(), "late.wav", wavOf(t, append(x, make([]float64, 22050)...)))
	code, stdout, stderr := command("transcribe", "--ear", "classical", in, "--harp", "C", "--from", "0:02",
		"--for", "2.5")
	if code != 0 || stderr != "" {
		t.Fatalf("exit code %d, stderr %q", code, stderr)
	}
	d, err := tab.Parse(strings.NewReader(stdout))
	if err != nil {
		t.Fatal(err)
	}
	if d.From != 2 || d.To != 4.5 || len(d.Events) != 1 || math.Abs(d.Events[0].Start-3) > 0.05 ||
		math.Abs(d.Events[0].End-4) > 0.05 {
		t.Errorf("section %g to %g, events %+v", d.From, d.To, d.Events)
	}
}

func TestDemo(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	dir := filepath.Join(t.TempDir(), "new")
	code, stdout, stderr := command("demo", "--ear", "classical", "--dir", dir)
	if code != 0 || stderr != "" || !strings.Contains(stdout, "recording: "+demo.Name) {
		t.Fatalf("exit code %d, stderr %q, stdout:\n%s", code, stderr, stdout)
	}
	if b, err := os.ReadFile(filepath.Join(dir, demo.Name)); err != nil || !bytes.Equal(b, demo.Recording()) {
		t.Errorf("the recording was not written as it is (%v)", err)
	}
	text, err := os.ReadFile(filepath.Join(dir, demoTab))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tab.Parse(bytes.NewReader(text)); err != nil || !strings.Contains(stdout, string(text)) {
		t.Errorf("the tab that was written (%v) is not the one shown:\n%s", err, text)
	}
	before := listing(t, dir)
	code, stdout, stderr = command("demo", "--ear", "classical", "--dir", dir)
	checkTrouble(t, code, stdout, stderr, exitFailed, "exists")
	if after := listing(t, dir); !slices.Equal(before, after) || len(after) != 3 {
		t.Errorf("files in the folder: %q", after)
	}
	code, stdout, stderr = command("demo", "--ear", "classical", "--dir",
		filepath.Join(dir, demoTab, "below a file"))
	checkTrouble(t, code, stdout, stderr, exitFailed, "can't write")
	if left := listing(t, temp); len(left) != 1 {
		t.Errorf("temporary files left: %q", left)
	}
}

// A stopped transcription says so and leaves nothing.
func TestStopped(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	in := put(t, dir, "tone.wav", wavOf(t, tone(1)))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	before := listing(t, dir)
	for _, args := range [][]string{
		{"transcribe", "--ear", "classical", in, "--harp", "C", "-o", filepath.Join(dir, "x.tab")},
		{"demo", "--ear", "classical", "--dir", filepath.Join(dir, "demo")},
	} {
		var stdout, stderr bytes.Buffer
		code := run(ctx, args, &stdout, &stderr)
		if code != exitFailed || stdout.Len() > 0 || stderr.String() != "blowdraw: stopped\n" {
			t.Errorf("%s: exit code %d, stdout %q, stderr %q",
				args[0], code, stdout.String(), stderr.String())
		}
	}
	if after := listing(t, dir); !slices.Equal(before, after) {
		t.Errorf("files before:\n%q\nafter:\n%q", before, after)
	}
}

// program starts the program itself.
func program(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, args...)
	c.Env = append(os.Environ(), asCommand+"=1")
	return c
}

// A reader that has gone is no reason for a panic or a message.
func TestClosedPipe(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	r.Close()
	var stderr bytes.Buffer
	c := program(t, "demo", "--ear", "classical")
	c.Stdout, c.Stderr = w, &stderr
	err = c.Run()
	w.Close()
	if c.ProcessState.ExitCode() != exitFailed || stderr.Len() > 0 {
		t.Errorf("exit code %d (%v), stderr %q", c.ProcessState.ExitCode(), err, stderr.String())
	}
	if left := listing(t, temp); len(left) != 1 {
		t.Errorf("temporary files left: %q", left)
	}
}

// awaitOpen waits until a process has a file open.
func awaitOpen(t *testing.T, pid int, path string) {
	t.Helper()
	for range 3000 {
		fds, _ := filepath.Glob(fmt.Sprintf("/proc/%d/fd/*", pid))
		for _, fd := range fds {
			if to, err := os.Readlink(fd); err == nil && to == path {
				return
			}
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("the program has not opened %s within 30 s", path)
}

// Ctrl-C in the middle of a long recording.
func TestInterrupt(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("looks into /proc to see when the program is at work")
	}
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	dir := t.TempDir()
	in := put(t, dir, "long.wav", wavOf(t, slices.Repeat(tone(1), 300)))
	var stderr bytes.Buffer
	c := program(t, "transcribe", "--ear", "classical", in, "--harp", "C", "-o",
		filepath.Join(dir, "long.tab"))
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	c.Stderr = &stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	awaitOpen(t, c.Process.Pid, in)
	if err := c.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	text, _ := io.ReadAll(out)
	c.Wait()
	if c.ProcessState.ExitCode() != exitFailed || len(text) > 0 || stderr.String() != "blowdraw: stopped\n" {
		t.Errorf("exit code %d, stdout %q, stderr %q", c.ProcessState.ExitCode(), text, stderr.String())
	}
	if files := slices.Concat(listing(t, dir), listing(t, temp)); len(files) != 3 {
		t.Errorf("files left: %q", files)
	}
}

func TestEPIPEIsQuiet(t *testing.T) {
	var stderr bytes.Buffer
	code := run(context.Background(), []string{"layout", "--harp", "C"}, broken{}, &stderr)
	if code != exitFailed || stderr.Len() > 0 {
		t.Errorf("exit code %d, stderr %q", code, stderr.String())
	}
}

// broken is a pipe whose reader has gone.
type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, syscall.EPIPE }
