package fit

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"blowdraw/decode/logistic"
)

// Six significant digits, as printf's %.6g gives them.
func TestRounded(t *testing.T) {
	for x, want := range map[float64]float64{
		1: 1, 0: 0, -2.0000001: -2, 123456.789: 123457, 0.000012345678: 0.0000123457, 1e300 / 3: 3.33333e299,
	} {
		if got := Rounded(x); got != want {
			t.Errorf("%g: %g, want %g", x, got, want)
		}
	}
}

// A model's file has a line a weight, in their order, and reads back as it was written.
func TestWriteFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rain.json")
	if _, ok, err := ReadFile(path); ok || err != nil {
		t.Errorf("no file: %v, %v", ok, err)
	}
	f := logistic.File{
		Model: "rain", Says: `that it "rains"`, FittedOn: []string{"a year", "<another>"},
		StandsOn: map[string]string{"sky": "2", "sea": "1"}, Constant: -1.23456789,
		Weights: []logistic.Weight{{Name: "wind", Value: 2.0 / 3}, {Name: "cloud", Value: -1e-7}},
	}
	if err := WriteFile(path, f); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	want := "{\n \"model\": \"rain\",\n \"says\": \"that it \\\"rains\\\"\",\n \"fitted_on\": [\n" +
		"  \"a year\",\n" +
		"  \"\\u003canother\\u003e\"\n ],\n \"stands_on\": {\n  \"sea\": \"1\",\n  \"sky\": \"2\"\n },\n" +
		" \"constant\": -1.23457,\n \"weights\": [\n" +
		"  {\"name\": \"wind\", \"value\": 0.666667},\n  {\"name\": \"cloud\", \"value\": -1e-07}\n ]\n}\n"
	if string(text) != want {
		t.Errorf("%s\nwant\n%s", text, want)
	}
	got, ok, err := ReadFile(path)
	f.Constant, f.Weights[0].Value = -1.23457, 0.666667
	if !ok || err != nil || !reflect.DeepEqual(got, f) {
		t.Errorf("%+v, %v, %v, want %+v", got, ok, err, f)
	}
	if err := os.WriteFile(path, []byte("{"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, _, err := ReadFile(path); err == nil || !strings.Contains(err.Error(), path) {
		t.Errorf("half a file: %v", err)
	}
}

// What is no number is not written, and the file that was there stays.
func TestWriteFileOfNoNumber(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rain.json")
	good := logistic.File{Model: "rain", Constant: 1}
	if err := WriteFile(path, good); err != nil {
		t.Fatal(err)
	}
	for say, f := range map[string]logistic.File{
		"the constant":       {Model: "rain", Constant: math.NaN()},
		"the weight of wind": {Model: "rain", Weights: []logistic.Weight{{Name: "wind", Value: math.Inf(1)}}},
		"two weights":        {Model: "rain", Weights: []logistic.Weight{{Name: "wind"}, {Name: "wind"}}},
	} {
		if err := WriteFile(path, f); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%v, want one of %s", err, say)
		}
	}
	if got, ok, err := ReadFile(path); !ok || err != nil || got.Constant != 1 {
		t.Errorf("%+v, %v, %v", got, ok, err)
	}
}

// Source: FIPS 180-4's example of one block, "abc" (NIST, "Examples with intermediate
// values: SHA256").
func TestChecksum(t *testing.T) {
	path := filepath.Join(t.TempDir(), "abc")
	if err := os.WriteFile(path, []byte("abc"), 0o644); err != nil {
		t.Fatal(err)
	}
	const want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if got, err := Checksum(path); err != nil || got != want {
		t.Errorf("%s, %v, want %s", got, err, want)
	}
	if _, err := Checksum(path + "d"); err == nil {
		t.Error("a checksum of no file")
	}
}
