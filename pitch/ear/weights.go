package ear

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"blowdraw/pitch"
)

// The weights file is a magic line, one line of JSON (see header) and the
// tensors as little-endian float16 values (IEEE 754 binary16) one after another.
//
//go:embed weights.bin
var embedded []byte

const magic = "blowdraw-ear 1\n"

// header describes the tensors that follow it. Offsets count bytes
// from the end of the header.
type header struct {
	Config struct {
		C      int `json:"c"`
		Stride int `json:"stride"`
	} `json:"config"`
	Tensors []struct {
		Name   string `json:"name"`
		Shape  []int  `json:"shape"`
		Offset int    `json:"offset"`
	} `json:"tensors"`
	SHA256 string `json:"sha256"`
}

// weights are what a file holds, each tensor in the order of its indices.
type weights struct {
	c, stride  int
	conv1      conv
	embed      []float32 // [c][Rows]
	layout     []float32 // [c][LayoutFeatures]
	res        [6]conv
	dwf, dwg   conv // along rows
	dwt, dwl   conv // along time
	keep, gate conv // of the context
	back       conv
	row        conv
	g1, g2, g3 conv
}

// conv is a convolution's weights, [out][in][freq][time], and one bias per output.
type conv struct{ w, b []float32 }

// parse reads a weights file and verifies its checksum and shapes.
func parse(file []byte) (*weights, error) {
	rest, ok := bytes.CutPrefix(file, []byte(magic))
	if !ok {
		return nil, errors.New("not a weights file of version 1")
	}
	line, data, ok := bytes.Cut(rest, []byte("\n"))
	if !ok {
		return nil, errors.New("the header does not end")
	}
	var h header
	if err := json.Unmarshal(line, &h); err != nil {
		return nil, fmt.Errorf("header: %w", err)
	}
	if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != h.SHA256 {
		return nil, errors.New("the checksum does not agree")
	}
	tensors := map[string][]float32{}
	for _, t := range h.Tensors {
		size, ok := sizeOf(t.Shape, len(data)/2)
		if !ok || t.Offset < 0 || t.Offset > len(data)-2*size {
			return nil, fmt.Errorf("tensor %s lies outside the data", t.Name)
		}
		tensors[t.Name] = float16s(data[t.Offset : t.Offset+2*size])
	}
	layer := func(name string) conv { return conv{tensors[name+".w"], tensors[name+".b"]} }
	n := &weights{
		c: h.Config.C, stride: h.Config.Stride,
		conv1: layer("conv1"), embed: tensors["embed"], layout: tensors["layout.w"],
		res: [6]conv{layer("res1"), layer("res2"), layer("res3"), layer("res4"), layer("res5"), layer("res6")},
		dwf: layer("dwf"), dwg: layer("dwg"), dwt: layer("dwt"), dwl: layer("dwl"), row: layer("row"),
		keep: layer("context.keep"), gate: layer("context.gate"), back: layer("context.back"),
		g1: layer("g1"), g2: layer("g2"), g3: layer("g3"),
	}
	return n, n.check()
}

// check verifies that every weight has the size the shapes ask for.
func (n *weights) check() error {
	if n.c <= 0 || n.c%8 != 0 || (n.stride != 1 && n.stride != 2) {
		return fmt.Errorf("unknown shape: %d channels, stride %d", n.c, n.stride)
	}
	want := func(name string, got []float32, size int) error {
		if len(got) != size {
			return fmt.Errorf("%s has %d values, want %d", name, len(got), size)
		}
		return nil
	}
	layers := []struct {
		name         string
		conv         conv
		inputs, outs int
	}{
		{"conv1", n.conv1, inChannels * freqTaps * timeTaps(n.stride), n.c},
		{"res1", n.res[0], n.c * 9, n.c}, {"res2", n.res[1], n.c * 9, n.c},
		{"res3", n.res[2], n.c * 9, n.c}, {"res4", n.res[3], n.c * 9, n.c},
		{"res5", n.res[4], n.c * 9, n.c}, {"res6", n.res[5], n.c * 9, n.c},
		{"dwf", n.dwf, dwfTaps, n.c}, {"dwg", n.dwg, dwfTaps, n.c}, {"dwt", n.dwt, dwtTaps, n.c}, {"dwl", n.dwl, dwlTaps, n.c},
		{"context.keep", n.keep, n.c, contextIn}, {"context.gate", n.gate, n.c, 1},
		{"context.back", n.back, 2 * contextIn, n.c},
		{"row", n.row, n.c, 2 * n.stride}, {"g1", n.g1, n.c, globalIn},
		{"g2", n.g2, pitch.Rows * globalIn * 3, globalWide},
		{"g3", n.g3, globalWide, n.stride * perFrame},
	}
	for _, l := range layers {
		if err := want(l.name+".w", l.conv.w, l.inputs*l.outs); err != nil {
			return err
		}
		if err := want(l.name+".b", l.conv.b, l.outs); err != nil {
			return err
		}
	}
	if err := want("embed", n.embed, n.c*pitch.Rows); err != nil {
		return err
	}
	return want("layout.w", n.layout, n.c*pitch.LayoutFeatures)
}

// sizeOf multiplies the sizes of a shape and tells whether all are at least 0
// and all products at most most.
func sizeOf(shape []int, most int) (size int, ok bool) {
	size = 1
	for _, d := range shape {
		if d < 0 || d > most {
			return 0, false
		}
		if size *= d; size > most {
			return 0, false
		}
	}
	return size, true
}

func float16s(b []byte) []float32 {
	v := make([]float32, len(b)/2)
	for i := range v {
		v[i] = float16(binary.LittleEndian.Uint16(b[2*i:]))
	}
	return v
}

// float16 converts an IEEE 754 binary16 value.
func float16(h uint16) float32 {
	sign := uint32(h>>15) << 31
	exp, frac := uint32(h>>10&31), uint32(h&1023)
	switch exp {
	case 0:
		v := float32(frac) / (1 << 24)
		if sign != 0 {
			v = -v
		}
		return v
	case 31:
		return math.Float32frombits(sign | 0xff<<23 | frac<<13)
	}
	return math.Float32frombits(sign | (exp+112)<<23 | frac<<13)
}
