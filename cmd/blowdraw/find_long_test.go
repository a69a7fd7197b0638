//go:build long

package main

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
)

// Of a harp's channel into which a third of the noise of the other leaks, that third
// is taken away; the tab says so, in words that --channel takes.
func TestLeakTakenAway(t *testing.T) {
	solo := demoSamples(t)
	loud := noise(float64(len(solo)) / pitch.Rate)[:len(solo)]
	leaky := make([]float64, len(solo))
	for i := range solo {
		leaky[i] = solo[i]/2 + loud[i]/3
	}
	var wav bytes.Buffer
	if err := decode.WriteWAVChannels(&wav, pitch.Rate, [][]float64{leaky, loud}); err != nil {
		t.Fatal(err)
	}
	in := put(t, t.TempDir(), "leak.wav", wav.Bytes())
	_, chosen, stderr := command("transcribe", in, "--harp", "A")
	name := regexp.MustCompile(`channel: +(left-0\.33\d*right)\n`).FindStringSubmatch(chosen)
	if name == nil || !strings.Contains(stderr, name[1]) {
		t.Fatalf("stderr %q, tab %.600q: want the channel left-0.33right", stderr, chosen)
	}
	if _, asked, _ := command("transcribe", in, "--harp", "A", "--channel", name[1]); asked != chosen {
		t.Errorf("--channel %s gives another tab than the choice of it", name[1])
	}
}
