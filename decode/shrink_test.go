package decode

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A recording that is cut short while it is read is told to be truncated, as one is that
// was before.
func TestShrinks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.wav")
	var b strings.Builder
	if err := WriteWAV(&b, Clip{Rate: 22050, Samples: make([]float64, 40*22050)}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	x := make([]float64, 22050)
	if _, err := s.Read(x); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, int64(b.Len()/2)); err != nil {
		t.Fatal(err)
	}
	for err == nil {
		_, err = s.Read(x)
	}
	if w := strings.Join(s.Warnings(), " "); err != io.EOF || !strings.Contains(w, "truncated after 0:20.0") {
		t.Errorf("%v, warnings %q", err, w)
	}
}
