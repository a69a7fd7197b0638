package main

import (
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
)

// twoPhrases is a tab at 60 beats a minute with bars from second 1 on: phrase 1 in the
// first bar, phrase 2 in the second, phrase 3 in the third. Its recording is as long.
const twoPhrases = `blowdraw tab 1
section: 0:00.5 to 0:13
harp: A
song: E
tempo: 60 bpm
meter: 4/4
channel: left
bar 1 0:01
Phrase 1
0:01 0.9 -4
0:02 0.9 -4
bar 2 0:05
Phrase 2
0:05 0.9 4
0:06 0.9 4
bar 3 0:09
Phrase 3
0:09 0.9 -4
`

// levels is the RMS of x between two times in seconds.
func levelOf(clip decode.Clip, from, to float64) float64 {
	sum := 0.0
	part := clip.Samples[int(from*float64(clip.Rate)):int(to*float64(clip.Rate))]
	for _, v := range part {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(part)))
}

// clicked tells whether a click begins at a time: loud from there on, softer before.
func clicked(clip decode.Clip, at float64) bool {
	return levelOf(clip, at, at+0.01) > 0.05 && levelOf(clip, max(at-0.02, 0), max(at-0.005, 0.001)) < 0.03
}

// A tab that is counted in, looped and gets faster: how long each time takes, by hand, and
// where clicks are while it rests.
func TestTrackOfTab(t *testing.T) {
	dir := t.TempDir()
	text := put(t, dir, "a.tab", []byte(twoPhrases))
	out := filepath.Join(dir, "a.wav")
	mustRun(t, "render", text, "--click", "--count-in", "4", "--slow", "0.5", "--loop", "4", "--faster",
		"0.2", "-o", out)
	clip, info := loadChannel(t, out, decode.Mix)
	// 12.5 s are 12.5 beats; whole bars make 16. The count-in leads from beat -4 to 0:00.5,
	// half a beat before beat 0: 3.5 s. All of it four times, at 0.5, 0.7, 0.9 and 1.
	want, begin := 0.0, []float64{}
	for _, speed := range []float64{0.5, 0.7, 0.9, 1} {
		begin = append(begin, want)
		want += (3.5 + 16) / speed
	}
	if math.Abs(info.Duration-want) > 0.01 {
		t.Errorf("%.3f s long, want %.3f", info.Duration, want)
	}
	for i, speed := range []float64{0.5, 0.7, 0.9, 1} {
		for _, beat := range []float64{0, 1, 2, 3, 7, 11, 15} { // of the count-in, and in rests
			if at := begin[i] + beat/speed; at > 0 && !clicked(clip, at) {
				t.Errorf("time %d: no click at beat %g, %.3f s", i+1, beat, at)
			}
		}
	}
}

// Of a recording: the beats are those of the tab, or of --bpm and --bar-at.
func TestTrackOfRecording(t *testing.T) {
	dir := t.TempDir()
	text := put(t, dir, "a.tab", []byte(twoPhrases))
	wav := put(t, dir, "silence.wav", wavOf(t, make([]float64, 14*22050)))
	for name, args := range map[string][]string{
		"tab": {"--tab", text},
		"bpm": {"--bpm", "60", "--bar-at", "0:05", "--from", "0.5", "--to", "13"},
	} {
		out := filepath.Join(dir, name+".wav")
		mustRun(t, append([]string{"slow", wav, "--speed", "0.5", "--click", "--count-in", "2", "-o", out},
			args...)...)
		clip, info := loadChannel(t, out, decode.Mix)
		if want := (1.5 + 12.5) / 0.5; math.Abs(info.Duration-want) > 0.01 {
			t.Errorf("%s: %.3f s long, want %.3f", name, info.Duration, want)
		}
		for beat := 1.0; beat < 14; beat++ {
			if !clicked(clip, beat/0.5) || clicked(clip, (beat+0.5)/0.5) {
				t.Errorf("%s: no click on beat %g, or one half a beat later", name, beat)
			}
		}
	}
}

// Phrases that are left out are silent, or the other side of the recording under them.
func TestLeaveOut(t *testing.T) {
	dir := t.TempDir()
	text := put(t, dir, "a.tab", []byte(twoPhrases))
	out := filepath.Join(dir, "a.wav")
	mustRun(t, "render", text, "--leave-out", "even", "-o", out)
	clip, _ := loadChannel(t, out, decode.Mix)
	for _, c := range []struct {
		at     float64
		sounds bool
	}{{0.8, true}, {1.8, true}, {4.8, false}, {5.8, false}, {8.8, true}} {
		if got := levelOf(clip, c.at, c.at+0.4) > 0.01; got != c.sounds {
			t.Errorf("sounds %g s after the start: %v", c.at, got)
		}
	}

	left, right := make([]float64, 14*22050), make([]float64, 14*22050)
	for i := range left {
		left[i], right[i] = 0.2*math.Sin(float64(i)*0.1), 0.2*math.Sin(float64(i)*0.02)
	}
	wav := filepath.Join(dir, "two.wav")
	f, err := os.Create(wav)
	if err != nil {
		t.Fatal(err)
	}
	if err := decode.WriteWAVChannels(f, 22050, [][]float64{left, right}); err != nil {
		t.Fatal(err)
	}
	f.Close()
	mustRun(t, "render", text, "--with", wav, "--leave-out", "2", "-o", out, "--force")
	record, _ := loadChannel(t, out, decode.Left)
	crossings := func(from, to float64) (n float64) {
		x := record.Samples[int(from*22050):int(to*22050)]
		for i := 1; i < len(x); i++ {
			if (x[i-1] < 0) != (x[i] < 0) {
				n++
			}
		}
		return n / (to - from)
	}
	harp, band := 22050*0.1/math.Pi, 22050*0.02/math.Pi
	for at, want := range map[float64]float64{1: harp, 4.7: band, 6: band, 9: harp} {
		if got := crossings(at, at+0.4); math.Abs(got-want) > 0.05*want {
			t.Errorf("%g s after the start the recording crosses zero %.0f times a second, want %.0f", at, got, want)
		}
	}
}

func TestParsePhrases(t *testing.T) {
	for text, want := range map[string][]int{"even": {2, 4}, "odd": {1, 3, 5}, "2": {2}, "1,3-5": {1, 3, 4, 5},
		"odd, 2": {1, 2, 3, 5}} {
		set, err := parsePhrases(text, 5)
		maps.DeleteFunc(set, func(_ int, in bool) bool { return !in })
		if got := slices.Sorted(maps.Keys(set)); err != nil || !slices.Equal(got, want) {
			t.Errorf("%q: %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "0", "6", "4-6", "5-4", "some", "-2", "1,,2"} {
		if _, err := parsePhrases(text, 5); err == nil {
			t.Errorf("%q is taken", text)
		}
	}
}

// The exercise of a phrase: slow, twice, then as it is, each counted in.
func TestExercise(t *testing.T) {
	dir := t.TempDir()
	text := put(t, dir, "a.tab", []byte(twoPhrases))
	out := filepath.Join(dir, "a.wav")
	mustRun(t, "render", text, "--phrase", "2", "--count-in", "2", "-o", out)
	_, info := loadChannel(t, out, decode.Mix)
	// From 0.3 s before 0:05 to 0.5 s after 0:06.9: 2.7 s, and 1.7 s of count-in.
	if want := (2.7 + 1.7) * (2/0.6 + 1); math.Abs(info.Duration-want) > 0.01 {
		t.Errorf("%.3f s long, want %.3f", info.Duration, want)
	}
	mustRun(t, "render", text, "--phrase", "2", "--slow", "0.5", "-o", out, "--force")
	if _, info = loadChannel(t, out, decode.Mix); math.Abs(info.Duration-(2.7*5+2)) > 0.01 {
		t.Errorf("%.3f s long, want %.3f", info.Duration, 2.7*5+2)
	}
}

// What ffmpeg writes is as long as it should be, by ffprobe; without ffmpeg that is refused,
// WAV and FLAC are not.
func TestEncoders(t *testing.T) {
	programs.Need(t, "ffmpeg")
	programs.Need(t, "ffprobe")
	dir := t.TempDir()
	text := put(t, dir, "a.tab", []byte(twoPhrases))
	for name, codec := range map[string]string{"a.mp3": "mp3", "a.m4a": "aac"} {
		out := filepath.Join(dir, name)
		mustRun(t, "render", text, "-o", out)
		told, err := exec.Command("ffprobe", "-v", "error", "-show_entries", "stream=codec_name:format=duration",
			"-of", "default=noprint_wrappers=1:nokey=1", out).Output()
		if err != nil {
			t.Fatalf("ffprobe: %v", err)
		}
		words := strings.Fields(string(told))
		seconds, err := strconv.ParseFloat(words[1], 64)
		if words[0] != codec || err != nil || math.Abs(seconds-12.5) > 0.1 {
			t.Errorf("%s: %s, %v", name, words, err)
		}
	}
	t.Setenv("PATH", dir)
	code, stdout, stderr := command("render", text, "-o", filepath.Join(dir, "b.mp3"))
	checkTrouble(t, code, stdout, stderr, exitFailed, "ffmpeg")
	if exists(filepath.Join(dir, "b.mp3")) {
		t.Error("b.mp3 was written all the same")
	}
	mustRun(t, "render", text, "-o", filepath.Join(dir, "b.flac"))
}

func TestTrackUsage(t *testing.T) {
	dir := t.TempDir()
	text := put(t, dir, "a.tab", []byte(twoPhrases))
	wav := put(t, dir, "silence.wav", wavOf(t, make([]float64, 14*22050)))
	out := filepath.Join(dir, "x.wav")
	for _, c := range []struct {
		args []string
		say  string
	}{
		{[]string{"render", text, "-o", out, "--faster", "0.1"}, "--loop"},
		{[]string{"render", text, "-o", out, "--faster", "2", "--loop", "3"}, "--faster 2"},
		{[]string{"render", text, "-o", out, "--count-in", "99"}, "--count-in 99"},
		{[]string{"render", text, "-o", out, "--phrase", "0"}, "counted from 1"},
		{[]string{"render", text, "-o", out, "--phrase", "4"}, "the tab has 3 phrases"},
		{[]string{"render", text, "-o", out, "--leave-out", "4"}, "the tab has 3 phrases"},
		{[]string{"render", text, "-o", out, "--leave-out", "all"}, "even, odd"},
		{[]string{"render", text, "-o", out, "--leave-out", "odd", "--phrase", "1"}, "both"},
		{[]string{"slow", wav, "-o", out, "--click"}, "--bpm"},
		{[]string{"slow", wav, "-o", out, "--bar-at", "1"}, "--bpm"},
		{[]string{"slow", wav, "-o", out, "--bpm", "60", "--tab", text}, "both"},
	} {
		code, stdout, stderr := command(c.args...)
		checkTrouble(t, code, stdout, stderr, exitUsage, c.say)
	}
}
