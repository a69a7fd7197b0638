package ear

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"math"
	"os"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
)

// fixture is a sound and what the training program's own features, and its
// network computed with PyTorch, make of it; train/fixture.py wrote it.
type fixture struct {
	WeightsSHA256 string  `json:"weights_sha256"`
	BaseHz        float64 `json:"base_hz"`
	Frames, Step  int
	Layout        [pitch.LayoutFeatures][pitch.Rows]float32
	Arrays        []struct {
		Name   string
		Shape  []int
		Offset int
	}
	samples []float64
	values  map[string][]float32 // features [16][120][ceil(Frames/Step)], row [40][Frames][2], whole [Frames][8]
}

func readFixture(t *testing.T) fixture {
	t.Helper()
	read := func(name string) []byte {
		b, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	var f fixture
	if err := json.Unmarshal(read("fixture.json"), &f); err != nil {
		t.Fatalf("reading fixture.json: %v", err)
	}
	if sum := sha256.Sum256(embedded); f.WeightsSHA256 != hex.EncodeToString(sum[:]) {
		t.Fatal("the fixture was made for other weights: run train/fixture.py (see testdata/README.md)")
	}
	clip, _, _, err := decode.Load("testdata/fixture.wav", decode.Options{Rate: pitch.Rate})
	if err != nil {
		t.Fatal(err)
	}
	f.samples, f.values = clip.Samples, map[string][]float32{}
	data := read("fixture.bin")
	for _, a := range f.Arrays {
		size := 1
		for _, d := range a.Shape {
			size *= d
		}
		v := make([]float32, size)
		for i := range v {
			v[i] = math.Float32frombits(binary.LittleEndian.Uint32(data[a.Offset+4*i:]))
		}
		f.values[a.Name] = v
	}
	if n := len(f.samples)/pitch.Hop + 1; f.Frames != n {
		t.Fatalf("the fixture has %d frames, the sound %d", f.Frames, n)
	}
	return f
}

// axis is that of the nearest semitone and what remains in cents.
func (f fixture) axis() pitch.Axis {
	midi := 69 + 12*math.Log2(f.BaseHz/440)
	base := math.Round(midi)
	return pitch.Axis{Base: int(base), Cents: 100 * (midi - base), Layout: f.Layout}
}

// input computes the network's input of all frames.
func input(e *Ear, samples []float64, axis pitch.Axis, frames int) []*tensor {
	out := pitch.NewFrames(axis, 0, frames)
	out.Loud = make([]float32, frames*pitch.Rows)
	h := newHearing(e.net, samples, &out, (frames+47)/48*48)
	h.listen(0)
	return h.in
}

func TestFeaturesAgreeWithTraining(t *testing.T) {
	f := readFixture(t)
	in := input(newEar(t), f.samples, f.axis(), f.Frames)
	kept := (f.Frames + f.Step - 1) / f.Step
	want := f.values["features"]
	if len(want) != inChannels*inBins*kept {
		t.Fatalf("the fixture has %d features, want %d", len(want), inChannels*inBins*kept)
	}
	worst := worstOf{tolerance: 1e-4}
	for ch := range inChannels {
		for b := range inBins {
			for j := range kept {
				i := j * f.Step
				x := in[i%len(in)]
				got := x.row(ch, b)[x.past+i/len(in)]
				worst.add(t, got, want[(ch*inBins+b)*kept+j], "channel %d, bin %d, frame %d", ch, b, i)
			}
		}
	}
	worst.log(t, "features")
}

func TestNetworkAgreesWithTraining(t *testing.T) {
	f, e := readFixture(t), newEar(t)
	out := e.hear(f.samples, 0, f.axis(), 48)
	row, whole := f.values["row"], f.values["whole"]
	if len(row) != pitch.Rows*f.Frames*2 || len(whole) != f.Frames*8 {
		t.Fatalf(
			"the fixture has %d and %d logits, want %d and %d",
			len(row),
			len(whole),
			pitch.Rows*f.Frames*2,
			f.Frames*8,
		)
	}
	probabilities, logits := worstOf{tolerance: 2e-3}, worstOf{tolerance: 2e-3}
	binary := func(got, want float32, what string, i, r int) {
		probabilities.add(t, got, sigmoid(want), "%s of frame %d, row %d", what, i, r)
		if math.Abs(float64(want)) < 8 { // beyond, float32 holds too little of the probability
			logits.add(t, logit(got), want, "logit of %s of frame %d, row %d", what, i, r)
		}
	}
	for i := range f.Frames {
		for r := range pitch.Rows {
			k := (r*f.Frames + i) * 2
			binary(out.Sounding[i*pitch.Rows+r], row[k], "sounding", i, r)
			binary(out.Attack[i*pitch.Rows+r], row[k+1], "attack", i, r)
		}
		breath, count := classes(whole, i)
		for k, p := range breath {
			probabilities.add(t, out.Breath[i][k], p, "breath %d of frame %d", k, i)
		}
		for k, p := range count {
			probabilities.add(t, out.Count[i][k], p, "count %d of frame %d", k, i)
		}
		binary(out.Event[i], whole[i*8+7], "event", i, -1)
	}
	probabilities.log(t, "probabilities")
	logits.log(t, "logits")
}

// The same through the front door.
func TestHearAgreesWithTraining(t *testing.T) {
	f, e := readFixture(t), newEar(t)
	got := e.Hear(f.samples, 0, f.axis())
	if got.N != f.Frames {
		t.Fatalf("heard %d frames, want %d", got.N, f.Frames)
	}
	worst := worstOf{tolerance: 2e-3}
	for i := range f.Frames {
		for r := range pitch.Rows {
			want := sigmoid(f.values["row"][(r*f.Frames+i)*2])
			worst.add(t, got.Sounding[i*pitch.Rows+r], want, "sounding of frame %d, row %d", i, r)
		}
		breath, count := classes(f.values["whole"], i)
		for k, p := range breath {
			worst.add(t, got.Breath[i][k], p, "breath %d of frame %d", k, i)
		}
		for k, p := range count {
			worst.add(t, got.Count[i][k], p, "count %d of frame %d", k, i)
		}
	}
	worst.log(t, "probabilities")
}

// classes of frame i: probabilities of breath none, blow, draw and of 0, 1, 2,
// 3 or more reeds, from logits [Frames][8].
func classes(whole []float32, i int) (breath [3]float32, count [4]float32) {
	copy(breath[:], whole[i*8:])
	copy(count[:], whole[i*8+3:])
	softmax(breath[:])
	softmax(count[:])
	return breath, count
}

func logit(p float32) float32 { return float32(math.Log(float64(p)) - math.Log1p(-float64(p))) }

// worstOf keeps the largest difference and fails the test beyond the tolerance.
type worstOf struct {
	tolerance float64
	largest   float64
	failures  int
}

func (w *worstOf) add(t *testing.T, got, want float32, format string, args ...any) {
	t.Helper()
	d := math.Abs(float64(got) - float64(want))
	if math.IsNaN(d) || d > w.tolerance {
		if w.failures++; w.failures <= 5 {
			t.Errorf(format+": %g, want %g", append(args, got, want)...)
		}
	}
	w.largest = max(w.largest, d)
}

func (w *worstOf) log(t *testing.T, what string) {
	t.Helper()
	t.Logf("largest difference of %s: %.2g (%d beyond %g)", what, w.largest, w.failures, w.tolerance)
}

func newEar(t testing.TB) *Ear {
	t.Helper()
	e, err := New()
	if err != nil {
		t.Fatal(err)
	}
	return e
}
