//go:build long

package page

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"testing"
)

func TestTooLong(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	p := quiet(document(t, "blowdraw tab 1\nharp: A\nsong: E\n0:01 0.5 -2\n"))
	p.Rate, p.Samples = 48000, make([]float64, MostBytes/2+1000) // noise can't be made smaller
	for i := range p.Samples {
		p.Samples[i] = 2*rng.Float64() - 1
	}
	var b bytes.Buffer
	var long *TooLongError
	if err := Write(&b, p); !errors.As(err, &long) || b.Len() > 0 {
		t.Fatalf("error %v, %d bytes written", err, b.Len())
	}
	p.Link = "noise.wav"
	if n := len(write(t, p)); n > 2<<20 {
		t.Errorf("a page with a link takes %d bytes", n)
	}
}
