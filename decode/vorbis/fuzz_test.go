package vorbis

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// packets returns the first packets of a fixture.
func packets(t testing.TB, most int) [][]byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "decode", "take.ogg"))
	if err != nil {
		t.Fatal(err)
	}
	p := pageReader{r: bytes.NewReader(b), size: int64(len(b))}
	var list [][]byte
	var packet []byte
	for at := int64(0); len(list) < most; {
		pg, ok := p.find(at, p.size)
		if !ok {
			break
		}
		body := pg.body
		for _, n := range pg.lacing {
			packet = append(packet, body[:n]...)
			body = body[n:]
			if n < 255 {
				list = append(list, packet)
				packet = nil
			}
		}
		at = pg.next
	}
	return list
}

// FuzzDecoder goes past the checksums of the pages: headers and packets that
// make no sense must give an error or sound, never a panic.
func FuzzDecoder(f *testing.F) {
	p := packets(f, 12)
	for _, audio := range p[3:] {
		f.Add(p[0], p[2], audio)
	}
	f.Fuzz(func(t *testing.T, identification, setup, audio []byte) {
		var d decoder
		if d.identification(identification) != nil || d.channels > 8 || d.setupHeader(setup) != nil {
			return
		}
		for range 2 {
			out, err := d.decode(audio)
			if err != nil {
				return
			}
			for _, x := range out {
				if len(x) > d.blocks[1]/2 {
					t.Fatalf("%d samples", len(x))
				}
			}
		}
	})
}

// Damaged headers and packets, without the fuzzing engine.
func TestDamagedPackets(t *testing.T) {
	p := packets(t, 40)
	seed := uint32(11)
	random := func(n int) int {
		seed = seed*1664525 + 1013904223
		return int(seed>>8) % n
	}
	worked := 0
	for i := range 3000 {
		var d decoder
		setup := append([]byte(nil), p[2]...)
		if i%2 == 0 {
			setup[random(len(setup))] ^= 1 << random(8)
		}
		if err := d.identification(p[0]); err != nil {
			t.Fatal(err)
		}
		if d.setupHeader(setup) != nil {
			continue
		}
		for _, audio := range p[3:8] {
			audio = append([]byte(nil), audio...)
			audio[random(len(audio))] ^= 1 << random(8)
			audio = audio[:1+random(len(audio))]
			if _, err := d.decode(audio); err == nil {
				worked++
			}
		}
	}
	if worked == 0 {
		t.Error("nothing was decoded")
	}
}
