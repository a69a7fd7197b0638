package main

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/tabber/tab"
)

// demoTabFile writes the demo recording and its true tab into a folder.
func demoTabFile(t *testing.T, dir string) (recording, tabFile string) {
	t.Helper()
	d := tab.Document{
		Recording: demo.Name, To: 16.5, Harp: demo.Harp(), SongKey: demo.SongKey(),
		TuningCents: demo.TuningCents,
		Events:      demo.Truth(), Phrases: demo.Phrases(), BPM: 84,
	}
	var b strings.Builder
	if err := tab.WriteText(&b, d); err != nil {
		t.Fatal(err)
	}
	return put(t, dir, demo.Name, demo.Recording()), put(t, dir, "demo.tab", []byte(b.String()))
}

func mustRun(t *testing.T, args ...string) string {
	t.Helper()
	code, stdout, stderr := command(args...)
	if code != 0 {
		t.Fatalf("%v: exit code %d, %s", args, code, stderr)
	}
	return stdout
}

func loadChannel(t *testing.T, path string, ch decode.Channel) (decode.Clip, decode.Info) {
	t.Helper()
	clip, info, _, err := decode.Load(path, decode.Options{Channel: ch})
	if err != nil {
		t.Fatal(err)
	}
	return clip, info
}

// delay in seconds of b against a, at most most, by the correlation of their
// levels over 5 ms.
func delay(a, b []float64, rate int, most float64) float64 {
	step := rate / 200
	level := func(x []float64) []float64 {
		var out []float64
		for i := 0; i+step <= len(x); i += step {
			sum := 0.0
			for _, v := range x[i : i+step] {
				sum += math.Abs(v)
			}
			out = append(out, sum)
		}
		return out
	}
	la, lb := level(a), level(b)
	best, at := -1.0, 0
	for lag := -int(most * 200); lag <= int(most*200); lag++ {
		sum := 0.0
		for i := range la {
			if j := i + lag; j >= 0 && j < len(lb) {
				sum += la[i] * lb[j]
			}
		}
		if sum > best {
			best, at = sum, lag
		}
	}
	return float64(at) / 200
}

func TestRenderBesideTheRecording(t *testing.T) {
	dir := t.TempDir()
	recording, tabFile := demoTabFile(t, dir)
	for _, speed := range []string{"1", "0.5"} {
		out := filepath.Join(dir, "beside"+speed+".wav")
		mustRun(t, "render", tabFile, "--with", recording, "--slow", speed, "-o", out)
		left, info := loadChannel(t, out, decode.Left)
		right, _ := loadChannel(t, out, decode.Right)
		v, _ := strconv.ParseFloat(speed, 64)
		if want := 16.5 / v; info.Channels != 2 || info.Rate != 22050 ||
			math.Abs(info.Duration-want) > 0.001 {
			t.Errorf("speed %s: %+v, want 2 channels of %g s at 22050 Hz", speed, info, want)
		}
		if got := delay(left.Samples, right.Samples, 22050, 0.5); math.Abs(got) > 0.0201 {
			t.Errorf("speed %s: the tab is %g s late", speed, got)
		}
	}
}

// Measured by sox: length, channels, peak.
func TestRenderedBySox(t *testing.T) {
	programs.Need(t, "sox")
	dir := t.TempDir()
	_, tabFile := demoTabFile(t, dir)
	for _, name := range []string{"loop.wav", "loop.flac"} {
		out := filepath.Join(dir, name)
		mustRun(t, "render", tabFile, "--click", "--loop", "2", "--tone", "room", "-o", out)
		told, err := exec.Command("sox", out, "-n", "stat").CombinedOutput()
		if err != nil {
			t.Fatalf("sox: %v\n%s", err, told)
		}
		number := func(what string) float64 {
			m := regexp.MustCompile(what + `:\s+(-?[0-9.]+)`).FindSubmatch(told)
			if m == nil {
				t.Fatalf("sox told no %s:\n%s", what, told)
			}
			v, _ := strconv.ParseFloat(string(m[1]), 64)
			return v
		}
		// 16.5 s are 23.1 beats at 84 a minute; each time takes 24, so that the next is in time.
		if got, want := number(`Length \(seconds\)`), 2*24*60/84.0; math.Abs(got-want) > 0.001 {
			t.Errorf("%s: %g s long, want %g", name, got, want)
		}
		if got := number("Maximum amplitude"); got > 0.9 || got < 0.1 {
			t.Errorf("%s: peak %g", name, got)
		}
	}
}

// The demo's A harp is taken neither for a G harp, which is far less likely, nor for a Bb
// harp, a semitone away, unless one insists.
func TestSlowMisfit(t *testing.T) {
	dir := t.TempDir()
	recording, _ := demoTabFile(t, dir)
	for key, say := range map[string]string{"G": "than the G harp", "Bb": "cents off the Bb harp"} {
		out := filepath.Join(dir, key+".wav")
		code, stdout, stderr := command("slow", recording, "--to-harp", key, "-o", out)
		if _, err := os.Stat(out); code != exitFailed || stdout != "" || err == nil ||
			!strings.Contains(stderr, say) || !strings.Contains(stderr, "--force takes this one") {
			t.Errorf("%s: exit code %d, stdout %q, stderr %q, written: %v", key, code, stdout, stderr, err)
		}
	}
	out := filepath.Join(dir, "forced.wav")
	mustRun(t, "slow", recording, "--to-harp", "Bb", "-o", out, "--force")
	if _, err := os.Stat(out); err != nil {
		t.Error(err)
	}
}

// What the demo says of its recording it says by name.
func TestDemoNamesItsFile(t *testing.T) {
	code, _, stderr := command("demo")
	if code != 0 || !strings.HasPrefix(stderr, "blowdraw: "+demo.Name+": ") {
		t.Errorf("exit code %d, stderr %q", code, stderr)
	}
}

func TestSlow(t *testing.T) {
	dir := t.TempDir()
	recording, _ := demoTabFile(t, dir)
	out := filepath.Join(dir, "slow.wav")
	stdout := mustRun(t, "slow", recording, "--from", "4", "--to", "10", "--speed", "0.5", "--to-harp", "A",
		"--bpm", "84", "--count-in", "4", "-o", out)
	clip, info := loadChannel(t, out, decode.Mix)
	beats := 4 * 60 / 84.0 / 0.5
	if want := beats + 12; math.Abs(info.Duration-want) > 0.001 {
		t.Errorf("%.3f s long, want %.3f", info.Duration, want)
	}
	m := regexp.MustCompile(`is ([0-9.]+) cents sharp`).FindStringSubmatch(stdout)
	if m == nil {
		t.Fatalf("stdout %q", stdout)
	}
	if off, _ := strconv.ParseFloat(m[1], 64); math.Abs(off-demo.TuningCents) > 3 {
		t.Errorf("%g cents off, want about %g", off, demo.TuningCents)
	}
	// The first click begins at once, the fourth three beats later.
	for _, at := range []float64{0, 0.75 * beats} {
		from := int(at * float64(clip.Rate))
		peak := 0.0
		for _, v := range clip.Samples[from : from+clip.Rate/100] {
			peak = max(peak, math.Abs(v))
		}
		if peak < 0.1 {
			t.Errorf("no click at %.2f s", at)
		}
	}
}

// A stereo recording stays stereo unless a channel is chosen.
func TestSlowKeepsStereo(t *testing.T) {
	dir := t.TempDir()
	left, right := make([]float64, 22050), make([]float64, 22050)
	for i := range left {
		left[i], right[i] = 0.1*math.Sin(float64(i)/9), 0.1*math.Sin(float64(i)/17)
	}
	path := filepath.Join(dir, "two.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := decode.WriteWAVChannels(f, 22050, [][]float64{left, right}); err != nil {
		t.Fatal(err)
	}
	f.Close()
	for channel, want := range map[string]int{"": 2, "mix": 1, "left": 1} {
		out := filepath.Join(dir, "out"+channel+".flac")
		args := []string{"slow", path, "-o", out}
		if channel != "" {
			args = append(args, "--channel", channel)
		}
		mustRun(t, args...)
		if _, info := loadChannel(t, out, decode.Mix); info.Channels != want {
			t.Errorf("channel %q: %d channels, want %d", channel, info.Channels, want)
		}
	}
}

func TestSoundUsage(t *testing.T) {
	dir := t.TempDir()
	recording, tabFile := demoTabFile(t, dir)
	plain := put(t, dir, "plain.tab", []byte("blowdraw tab 1\nharp: A\nsong: E\n0:01 1 -2\n"))
	empty := put(t, dir, "empty.tab", []byte("blowdraw tab 1\nharp: A\nsong: E\n"))
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{"render", tabFile}, exitUsage, "which file"},
		{[]string{"render", tabFile, "-o", "x.wma"}, exitUsage, ".wav or .flac"},
		{[]string{"render", tabFile, "-o", dir + "/x.wav", "--slow", "0"}, exitUsage, "--slow"},
		{[]string{"render", tabFile, "-o", dir + "/x.wav", "--tone", "tin"}, exitUsage, "--tone"},
		{[]string{"render", tabFile, "-o", dir + "/x.wav", "--loop", "0"}, exitUsage, "--loop"},
		{[]string{"render", tabFile, "-o", recording}, exitFailed, "exists already"},
		{[]string{"render", tabFile, "--with", recording, "-o", recording, "--force"}, exitUsage,
			"is the recording"},
		{[]string{"slow", recording, "-o", recording, "--force"}, exitUsage, "is the recording"},
		{[]string{"render", tabFile, "--with", dir + "/none.wav", "-o", dir + "/x.wav"}, exitFailed,
			"no such file"},
		{[]string{"render", plain, "-o", dir + "/x.wav", "--click"}, exitFailed, "no tempo"},
		{[]string{"render", empty, "-o", dir + "/x.wav"}, exitFailed, "nothing is played"},
		{[]string{"slow", recording}, exitUsage, "which file"},
		{[]string{"slow", recording, "-o", dir + "/x.wav", "--count-in", "4"}, exitUsage, "--bpm"},
		{[]string{"slow", recording, "-o", dir + "/x.wav", "--to-harp", "H"}, exitUsage, "--to-harp"},
		{[]string{"slow", recording, "-o", dir + "/x.wav", "--to-harp", "A", "--cents", "4"}, exitUsage,
			"both"},
		{[]string{"slow", recording, "-o", dir + "/x.wav", "--from", "99"}, exitFailed, "0:16.5 long"},
	} {
		code, _, stderr := command(c.args...)
		if code != c.code || !strings.Contains(stderr, c.say) {
			t.Errorf("%v: exit code %d, %q; want %d and %q", c.args[2:], code, stderr, c.code, c.say)
		}
	}
}
