package demo

import (
	"bytes"
	"encoding/binary"
	"math"
	"runtime"
	"slices"
	"testing"

	"blowdraw/cmd/blowdraw/demo/internal/scene"
	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// The embedded recording is what the generator renders now. Where the compiler
// may fuse a multiplication and an addition (all but amd64) samples can round
// the other way.
func TestRecordingIsRendered(t *testing.T) {
	var wav bytes.Buffer
	if err := decode.WriteWAV(&wav, scene.Clip()); err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(wav.Bytes(), recording) {
		return
	}
	a, b := pcm(t, wav.Bytes()), pcm(t, recording)
	if runtime.GOARCH == "amd64" || len(a) != len(b) {
		t.Fatal("demo.wav is not what the score renders: run go generate in cmd/blowdraw/demo")
	}
	for i := range a {
		if math.Abs(a[i]-b[i]) > 1 {
			t.Fatalf("sample %d is %g, the score renders %g: run go generate in cmd/blowdraw/demo",
				i, b[i], a[i])
		}
	}
}

// pcm is the samples of a WAV file with a 44-byte header, 16-bit mono.
func pcm(t *testing.T, wav []byte) []float64 {
	t.Helper()
	if len(wav) < 44 || string(wav[:4]) != "RIFF" || string(wav[36:40]) != "data" {
		t.Fatal("not a plain WAV file")
	}
	if rate := binary.LittleEndian.Uint32(wav[24:]); rate != scene.Rate {
		t.Fatalf("rate %d, want %d", rate, scene.Rate)
	}
	var x []float64
	for i := 44; i+1 < len(wav); i += 2 {
		x = append(x, float64(int16(binary.LittleEndian.Uint16(wav[i:]))))
	}
	return x
}

// The recording holds what About promises.
func TestAboutIsTrue(t *testing.T) {
	h := Harp()
	if h.Name != "A" || harp.Position(h.Key(), SongKey()) != 2 || harp.KeyName(SongKey()) != "E" {
		t.Errorf("harp %s in position %d", h.Name, harp.Position(h.Key(), SongKey()))
	}
	count := map[string]int{}
	bends := 0
	last := 0.0
	for i, e := range Truth() {
		if e.Start < last || e.End <= e.Start {
			t.Errorf("event %d runs from %g to %g after %g", i, e.Start, e.End, last)
		}
		last = e.End
		count[e.Texture]++
		for _, a := range e.Actions {
			if !h.Plays(a) {
				t.Errorf("event %d: the harp does not play %v", i, a)
			}
			if a.Bend > 0 {
				bends++
			}
		}
	}
	if count["double"] != 1 || count["split"] != 1 || bends < 4 || len(Phrases()) != 3 {
		t.Errorf("%v, %d bends, %d phrases", count, bends, len(Phrases()))
	}
	draw := func(holes ...int) []harp.Action {
		var a []harp.Action
		for _, h := range holes {
			a = append(a, harp.Action{Breath: harp.Draw, Hole: h})
		}
		return a
	}
	for _, want := range [][]harp.Action{draw(4, 5), draw(1, 4)} {
		found := false
		for _, e := range Truth() {
			found = found || slices.Equal(e.Actions, want)
		}
		if !found {
			t.Errorf("nobody plays %v", want)
		}
	}
}

// Every event sounds: at each pitch of the truth, half-way through the event,
// the recording has partials of that pitch; the spaces between phrases are
// quiet.
func TestTruthIsHeard(t *testing.T) {
	x := pcm(t, recording)
	for i, e := range Truth() {
		mid := int((e.Start + e.End) / 2 * scene.Rate)
		y := x[mid-2048 : mid+2048]
		for _, p := range e.Pitches {
			if on, off := combs(y, p), max(combs(y, p+0.75), combs(y, p-0.75)); on < 2*off {
				t.Errorf("event %d at %.2f s: partials of MIDI %.2f stand only %.1f times above their "+
					"surroundings", i, e.Start, p, on/off)
			}
		}
	}
	p := Phrases()
	for i := range p {
		end := float64(len(x)) / scene.Rate
		if i+1 < len(p) {
			end = p[i+1].Start
		}
		loud := rms(x[int(p[i].Start*scene.Rate):int(p[i].End*scene.Rate)])
		quiet := rms(x[int((end-0.1)*scene.Rate):int((end-0.01)*scene.Rate)])
		if db := 20 * math.Log10(quiet/loud); db > -30 {
			t.Errorf("after phrase %d the recording falls by %.1f dB only", i+1, -db)
		}
	}
}

// combs sums the amplitudes of y at the first four partials of a pitch.
func combs(y []float64, midi float64) float64 {
	var sum float64
	for k := 1.0; k <= 4; k++ {
		var re, im float64
		for i, v := range y {
			w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(len(y)))
			s, c := math.Sincos(2 * math.Pi * k * pitch.MIDIToHz(midi) * float64(i) / scene.Rate)
			re += v * w * c
			im += v * w * s
		}
		sum += math.Hypot(re, im)
	}
	return sum
}

func rms(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s / float64(len(x)))
}
