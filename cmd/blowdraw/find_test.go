package main

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// demoSamples are the demo at the ears' rate.
func demoSamples(t *testing.T) []float64 {
	t.Helper()
	c, _, _, err := decode.Load(put(t, t.TempDir(), demo.Name, demo.Recording()),
		decode.Options{Rate: pitch.Rate})
	if err != nil {
		t.Fatal(err)
	}
	return c.Samples
}

// noise sounds like surf: as loud as a harp, and no note in it.
func noise(seconds float64) []float64 {
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, int(seconds*pitch.Rate))
	low := 0.0
	for i := range x {
		low += 0.1 * (rng.NormFloat64() - low)
		x[i] = 0.3 * low
	}
	return x
}

// Two solos with twelve seconds of noise between them are two stretches, and the
// noise stands as a gap in the tab.
func TestFind(t *testing.T) {
	solo := demoSamples(t)
	x := append(append(append([]float64(nil), solo...), noise(12)...), solo...)
	in := put(t, t.TempDir(), "two.wav", wavOf(t, x))
	code, stdout, stderr := command("transcribe", in, "--harp", "A", "--find")
	if code != 0 {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	if rows := strings.Count(stdout, "%\n"); rows != 2 || !strings.Contains(stdout, "--from ") {
		t.Errorf("%d stretches, want 2:\n%s", rows, stdout)
	}
	_, stdout, _ = command("transcribe", in, "--harp", "A")
	d, err := tab.Parse(strings.NewReader(stdout))
	if err != nil {
		t.Fatal(err)
	}
	gaps := d.Gaps()
	if len(gaps) != 1 || math.Abs(gaps[0].Start-16) > 1 || math.Abs(gaps[0].End-29) > 1 {
		t.Errorf("gaps %v, want one from about 0:16 to 0:29", gaps)
	}
	_, stdout, _ = command("phrases", put(t, t.TempDir(), "two.tab", []byte(stdout)))
	if !strings.Contains(stdout, gaps[0].String()) {
		t.Errorf("phrases does not tell of the gap:\n%s", stdout)
	}
	for _, bad := range [][]string{{"-o", "x.tab"}, {"--format", "json"}, {"--ear", "classical"}} {
		args := append([]string{"transcribe", in, "--harp", "A", "--find"}, bad...)
		if code, _, stderr := command(args...); code != exitUsage || !strings.Contains(stderr, "--find") {
			t.Errorf("%v: exit code %d, %q", bad, code, stderr)
		}
	}
}

// A harp on one side under noise on the other is heard on its side, unless the
// mix is asked for.
func TestChannelChosen(t *testing.T) {
	solo := demoSamples(t)[:8*pitch.Rate]
	loud := noise(8)
	for i := range loud {
		loud[i] *= 3
	}
	var wav bytes.Buffer
	if err := decode.WriteWAVChannels(&wav, pitch.Rate, [][]float64{loud[:len(solo)], solo}); err != nil {
		t.Fatal(err)
	}
	in := put(t, t.TempDir(), "side.wav", wav.Bytes())
	for _, c := range []struct {
		args []string
		want string
	}{{nil, "right"}, {[]string{"--channel", "left"}, ""}, {[]string{"--channel", "mix"}, "mix"}} {
		code, stdout, stderr := command(append([]string{"transcribe", in, "--harp", "A"}, c.args...)...)
		if c.want == "" { // there is no harp in it
			if code != exitFailed {
				t.Errorf("%v: exit code %d, want %d", c.args, code, exitFailed)
			}
			continue
		}
		if !strings.Contains(stdout, "channel:   "+c.want+"\n") ||
			strings.Contains(stderr, "clearest") != (c.args == nil) {
			t.Errorf("%v: exit code %d, stderr %q, want the channel %s", c.args, code, stderr, c.want)
		}
	}
}
