package ear

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// Values of IEEE 754-2019, binary16: 1 sign bit, 5 exponent bits with bias 15,
// 10 fraction bits (table 3.5), value by the rules of clause 3.4.
func TestFloat16(t *testing.T) {
	for _, c := range []struct {
		bits uint16
		want float64
	}{
		{0x0000, 0},
		{0x8000, math.Copysign(0, -1)},
		{0x0001, 0x1p-24},           // smallest subnormal
		{0x03ff, 0x1p-14 - 0x1p-24}, // largest subnormal
		{0x0400, 0x1p-14},           // smallest normal
		{0x3555, 0.333251953125},    // nearest to 1/3
		{0x3bff, 1 - 0x1p-11},       // last before 1
		{0x3c00, 1},                 //
		{0x3c01, 1 + 0x1p-10},       // next after 1
		{0x4248, 3.140625},          // nearest to pi
		{0x7bff, 65504},             // largest
		{0xc000, -2},                //
		{0x8001, -0x1p-24},          //
		{0xfbff, -65504},            //
		{0x7c00, math.Inf(1)},       //
		{0xfc00, math.Inf(-1)},      //
	} {
		got := float64(float16(c.bits))
		if got != c.want || math.Signbit(got) != math.Signbit(c.want) {
			t.Errorf("float16(%#04x) = %g, want %g", c.bits, got, c.want)
		}
	}
	for _, nan := range []uint16{0x7e00, 0x7c01, 0xffff} {
		if got := float16(nan); got == got {
			t.Errorf("float16(%#04x) = %g, want NaN", nan, got)
		}
	}
}

// Every finite value by the formula of clause 3.4.
func TestFloat16Formula(t *testing.T) {
	for bits := range 1 << 16 {
		sign, exp, frac := bits>>15, bits>>10&31, bits&1023
		if exp == 31 {
			continue
		}
		want := math.Ldexp(1+float64(frac)/1024, exp-15)
		if exp == 0 {
			want = math.Ldexp(float64(frac)/1024, -14)
		}
		if sign == 1 {
			want = -want
		}
		if got := float64(float16(uint16(bits))); got != want {
			t.Fatalf("float16(%#04x) = %g, want %g", bits, got, want)
		}
	}
}

// parts of the embedded file: its header, free to change, and its data.
func parts(t testing.TB) (head map[string]any, data []byte) {
	t.Helper()
	rest, _ := bytes.CutPrefix(embedded, []byte(magic))
	line, data, _ := bytes.Cut(rest, []byte("\n"))
	if err := json.Unmarshal(line, &head); err != nil {
		t.Fatal(err)
	}
	return head, data
}

// join writes a weights file, with the checksum of the data.
func join(t testing.TB, head map[string]any, data []byte) []byte {
	t.Helper()
	sum := sha256.Sum256(data)
	head["sha256"] = hex.EncodeToString(sum[:])
	line, err := json.Marshal(head)
	if err != nil {
		t.Fatal(err)
	}
	return append(append([]byte(magic), append(line, '\n')...), data...)
}

func tensorsOf(head map[string]any) []any { return head["tensors"].([]any) }

func TestParse(t *testing.T) {
	if _, err := parse(embedded); err != nil {
		t.Errorf("the embedded file: %v", err)
	}
	head, data := parts(t)
	if _, err := parse(join(t, head, data)); err != nil {
		t.Errorf("the same file with its header written anew: %v", err)
	}
}

func TestParseDamagedFiles(t *testing.T) {
	last := bytes.Clone(embedded)
	last[len(last)-1] ^= 1
	version := bytes.Replace(embedded, []byte("ear 1"), []byte("ear 2"), 1)
	for _, c := range []struct {
		name, want string
		file       []byte
	}{
		{"nothing", "not a weights file", nil},
		{"half a magic line", "not a weights file", []byte(magic[:5])},
		{"another version", "not a weights file", version},
		{"only the magic line", "header does not end", []byte(magic)},
		{"half a header", "header does not end", embedded[:200]},
		{"an empty header", "header", []byte(magic + "\n")},
		{"a header that is no object", "header", []byte(magic + "[]\n")},
		{"a broken header", "header", bytes.Replace(embedded, []byte(`{"config"`), []byte(`{"config`), 1)},
		{"no data", "checksum", embedded[:len(embedded)-len(dataOf(t))]},
		{"a byte short", "checksum", embedded[:len(embedded)-1]},
		{"a byte too many", "checksum", append(bytes.Clone(embedded), 0)},
		{"a flipped bit", "checksum", last},
	} {
		fails(t, c.name, c.file, c.want)
	}
}

func dataOf(t testing.TB) []byte {
	_, data := parts(t)
	return data
}

// Wrong sizes in a file whose checksum is right.
func TestParseWrongSizes(t *testing.T) {
	type object = map[string]any
	for _, c := range []struct {
		name, want string
		change     func(head object, tensor object)
	}{
		{"offset before the data", "outside the data", func(_, x object) { x["offset"] = -2 }},
		{"offset past the data", "outside the data", func(_, x object) { x["offset"] = len(embedded) }},
		{"largest offset", "outside the data", func(_, x object) { x["offset"] = math.MaxInt }},
		{"larger than the data", "outside the data", func(_, x object) { x["shape"] = []int{len(embedded)} }},
		{"negative size", "outside the data", func(_, x object) { x["shape"] = []int{-8} }},
		{"two negative sizes", "outside the data", func(_, x object) { x["shape"] = []int{-8, -8} }},
		{"size that overflows to a negative one", "outside the data", func(_, x object) { x["shape"] = []int{1 << 62} }},
		{"sizes that overflow to nothing", "outside the data", func(_, x object) { x["shape"] = []int{1 << 32, 1 << 32} }},
		{"shape that is no list", "header", func(_, x object) { x["shape"] = "80" }},
		{"no shape", "values, want", func(_, x object) { delete(x, "shape") }},
		{"empty", "values, want", func(_, x object) { x["shape"] = []int{0} }},
		{"another name", "values, want", func(_, x object) { x["name"] = "other" }},
		{"no tensors", "values, want", func(h, _ object) { delete(h, "tensors") }},
		{"no config", "unknown shape", func(h, _ object) { delete(h, "config") }},
		{"no channels", "unknown shape", func(h, _ object) { h["config"].(object)["c"] = 0 }},
		{"odd channels", "unknown shape", func(h, _ object) { h["config"].(object)["c"] = 7 }},
		{"negative channels", "unknown shape", func(h, _ object) { h["config"].(object)["c"] = -8 }},
		{"too many channels", "values, want", func(h, _ object) { h["config"].(object)["c"] = 1 << 61 }},
		{"stride 0", "unknown shape", func(h, _ object) { h["config"].(object)["stride"] = 0 }},
		{"stride 3", "unknown shape", func(h, _ object) { h["config"].(object)["stride"] = 3 }},
	} {
		head, data := parts(t)
		c.change(head, tensorsOf(head)[0].(object))
		fails(t, c.name, join(t, head, data), c.want)
	}
}

// Each tensor of the file is needed, and in its size.
func TestParseEveryTensor(t *testing.T) {
	head, _ := parts(t)
	for i, x := range tensorsOf(head) {
		name := x.(map[string]any)["name"].(string)
		head, data := parts(t)
		all := tensorsOf(head)
		head["tensors"] = append(all[:i:i], all[i+1:]...)
		fails(t, "without "+name, join(t, head, data), name)

		head, data = parts(t)
		shape := tensorsOf(head)[i].(map[string]any)["shape"].([]any)
		shape[0] = shape[0].(float64) - 1
		fails(t, "with less of "+name, join(t, head, data), name)
	}
}

func fails(t *testing.T, name string, file []byte, want string) {
	t.Helper()
	defer func() {
		if r := recover(); r != nil {
			t.Errorf("%s: panic: %v", name, r)
		}
	}()
	if _, err := parse(file); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%s: error %v, want one with %q", name, err, want)
	}
}

// Whatever the header and the data, parse must not panic, and what it accepts
// must have every weight.
func FuzzParse(f *testing.F) {
	head, data := parts(f)
	line, err := json.Marshal(head)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(line, data)
	f.Add(
		[]byte(`{"config":{"c":8,"stride":1},"tensors":[{"name":"embed","shape":[2,3],"offset":4}]}`),
		make([]byte, 16),
	)
	f.Add([]byte(`{"tensors":[{"shape":[4611686018427387904],"offset":9223372036854775807}]}`), []byte{})
	f.Fuzz(func(t *testing.T, line, data []byte) {
		var head map[string]any
		if json.Unmarshal(line, &head) != nil || head == nil {
			return
		}
		n, err := parse(join(t, head, data))
		if err == nil && n.check() != nil {
			t.Error("accepted without all weights")
		}
	})
}
