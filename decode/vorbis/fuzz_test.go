package vorbis

import (
	"bytes"
	"encoding/binary"
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
	f.Add(p[0], p[2], p[5])
	for channels := 1; channels <= 2; channels++ {
		for mode := range 4 {
			f.Add(madeIdentification(channels, 8000, 6, 7), madeSetup(channels), madeAudio(mode, 30, uint32(mode)))
		}
	}
	f.Fuzz(func(t *testing.T, identification, setup, audio []byte) {
		var d decoder
		if len(setup) > 5000 || len(audio) > 500 || d.identification(identification) != nil || d.channels > 8 {
			return
		}
		if d.setupHeader(setup) != nil {
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

// FuzzPacket sends packets through the setup of a real encoder.
func FuzzPacket(f *testing.F) {
	p := packets(f, 12)
	for _, audio := range p[3:] {
		f.Add(audio[:min(len(audio), 200)])
	}
	var d decoder
	if err := d.identification(p[0]); err != nil {
		f.Fatal(err)
	}
	if err := d.setupHeader(p[2]); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, audio []byte) {
		if len(audio) > 400 {
			return
		}
		d.reset()
		for k := range 2 {
			out, err := d.decode(audio)
			if err != nil {
				return
			}
			if k == 1 && (len(out) != d.channels || len(out[0]) < d.blocks[0]/2 || len(out[0]) > d.blocks[1]/2) {
				t.Fatalf("%d channels", len(out))
			}
		}
	})
}

// sealPages writes the checksum of everything that looks like a page.
func sealPages(b []byte) []byte {
	b = append([]byte(nil), b...)
	for at := 0; at+pageHeader <= len(b); at++ {
		if string(b[at:at+4]) != "OggS" {
			continue
		}
		size := pageHeader + int(b[at+26])
		if at+size > len(b) {
			continue
		}
		for _, n := range b[at+pageHeader : at+size] {
			size += int(n)
		}
		if at+size > len(b) {
			continue
		}
		binary.LittleEndian.PutUint32(b[at+22:], 0)
		binary.LittleEndian.PutUint32(b[at+22:], crc(0, b[at:at+size]))
		at += size - 1
	}
	return b
}

// FuzzPages reads whole files past their checksums, from the start and from a sample on.
func FuzzPages(f *testing.F) {
	for channels := 1; channels <= 2; channels++ {
		b := madeStream(channels)
		f.Add(b, uint16(0))
		f.Add(b, uint16(300))
		f.Add(append(append([]byte(nil), b...), b...), uint16(500))
	}
	f.Fuzz(func(t *testing.T, b []byte, from uint16) {
		if len(b) > 2000 {
			return
		}
		b = sealPages(b)
		v, err := Open(bytes.NewReader(b), int64(len(b)))
		if err != nil || v.Channels() > 8 {
			return
		}
		n := int64(from)
		if n > 0 {
			reached, err := v.SeekTo(n)
			if err != nil || reached < n {
				if reached > n {
					t.Fatalf("sample %d of %d", reached, n)
				}
				return
			}
		}
		buf := make([]float64, 1024*v.Channels())
		for range 8 {
			n, err := v.Read(buf)
			if n < 0 || n == 0 && err == nil || n > len(buf)/v.Channels() {
				t.Fatalf("%d samples, %v", n, err)
			}
			if err != nil {
				return
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
