package fit

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/lab/files"
)

// digits is how many significant ones a fitted number is written with.
const digits = 6

// Rounded is a number as it is written into a model's file.
func Rounded(x float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	if err != nil { // a number out of range once rounded
		return x
	}
	return r
}

// ReadFile reads the file of a model; ok is false if there is none.
func ReadFile(path string) (f logistic.File, ok bool, err error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return f, false, nil
	}
	if err != nil {
		return f, false, fmt.Errorf("reading a fitted model: %w", err)
	}
	if f, err = logistic.Parse(data); err != nil {
		return f, false, fmt.Errorf("%s: %w", path, err)
	}
	return f, true, nil
}

// WriteFile writes the file of a model whole or not at all, the same bytes for the same
// model: numbers to six significant digits, weights in their order and one a line. A
// number that is none is an error.
func WriteFile(path string, f logistic.File) error {
	data, err := format(f)
	if err != nil {
		return fmt.Errorf("writing the model %s: %w", f.Model, err)
	}
	return files.WriteBytes(path, data)
}

// format is the content of a model's file.
func format(f logistic.File) ([]byte, error) {
	var b bytes.Buffer
	text := func(v any) string {
		out, _ := json.Marshal(v) // of a string: no error
		return string(out)
	}
	number := func(name string, x float64) (string, error) {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return "", fmt.Errorf("%s is %g", name, x)
		}
		return strconv.FormatFloat(Rounded(x), 'g', -1, 64), nil
	}
	constant, err := number("the constant", f.Constant)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(&b, "{\n \"model\": %s,\n \"says\": %s,\n \"fitted_on\": [", text(f.Model), text(f.Says))
	for i, s := range f.FittedOn {
		fmt.Fprintf(&b, "%s\n  %s", comma(i), text(s))
	}
	fmt.Fprint(&b, "\n ],\n \"stands_on\": {")
	for i, name := range slices.Sorted(maps.Keys(f.StandsOn)) {
		fmt.Fprintf(&b, "%s\n  %s: %s", comma(i), text(name), text(f.StandsOn[name]))
	}
	fmt.Fprintf(&b, "\n },\n \"constant\": %s,\n \"weights\": [", constant)
	seen := map[string]bool{}
	for i, w := range f.Weights {
		if seen[w.Name] {
			return nil, fmt.Errorf("two weights are of %q", w.Name)
		}
		seen[w.Name] = true
		value, err := number("the weight of "+w.Name, w.Value)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%s\n  {\"name\": %s, \"value\": %s}", comma(i), text(w.Name), value)
	}
	fmt.Fprint(&b, "\n ]\n}\n")
	return b.Bytes(), nil
}

// comma before all but the first.
func comma(i int) string {
	if i == 0 {
		return ""
	}
	return ","
}

// Checksum is the SHA-256 of a file, in hexadecimal digits (FIPS 180-4).
func Checksum(path string) (string, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("taking the checksum of what a model stands on: %w", err)
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}

// checksums of files, by their paths from root.
func checksums(root string, paths []string) (map[string]string, error) {
	out := map[string]string{}
	for _, p := range paths {
		sum, err := Checksum(filepath.Join(root, filepath.FromSlash(p)))
		if err != nil {
			return nil, err
		}
		out[p] = sum
	}
	return out, nil
}
