package decode

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// The cost of a section must not grow with the recording around it: each
// benchmark reads the same 60 s alone and near the end of an hour.
func benchmarkSection(b *testing.B, write func(b *testing.B, path string, seconds int)) {
	dir := b.TempDir()
	short, long := filepath.Join(dir, "short"), filepath.Join(dir, "long")
	write(b, short, 60)
	write(b, long, 3600)
	b.Run("alone", func(b *testing.B) { benchmarkLoad(b, short, Options{Rate: 22050}) })
	b.Run("of60min", func(b *testing.B) { benchmarkLoad(b, long, Options{Rate: 22050, From: 3500, To: 3560}) })
}

func benchmarkLoad(b *testing.B, path string, opt Options) {
	b.ReportAllocs()
	for b.Loop() {
		c, _, _, err := Load(path, opt)
		if err != nil {
			b.Fatal(err)
		}
		if n := float64(len(c.Samples)) / 22050; n < 59 || n > 61 {
			b.Fatalf("%g s", n)
		}
	}
}

func create(b *testing.B, path string, fill func(w *bufio.Writer) error) {
	b.Helper()
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriterSize(f, 1<<20)
	err = fill(w)
	if err == nil {
		err = w.Flush()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		b.Fatal(err)
	}
}

func BenchmarkSection60sOf60minWAV(b *testing.B) {
	second := wavBytes(b, Clip{Rate: 44100, Samples: tones(44100, 44100)})
	benchmarkSection(b, func(b *testing.B, path string, seconds int) {
		create(b, path, func(w *bufio.Writer) error {
			head := append([]byte(nil), second[:44]...)
			binary.LittleEndian.PutUint32(head[40:], uint32(seconds*88200))
			w.Write(head)
			for range seconds {
				w.Write(second[44:])
			}
			return nil
		})
	})
}

func BenchmarkSection60sOf60minFLAC(b *testing.B) {
	x := tones(44100, 44100)
	samples := make([]int32, len(x))
	for i, v := range x {
		samples[i] = int32(quantize(v))
	}
	const block = 4410
	benchmarkSection(b, func(b *testing.B, path string, seconds int) {
		create(b, path, func(w *bufio.Writer) error {
			enc, err := flac.NewEncoder(struct{ io.Writer }{w}, &meta.StreamInfo{
				BlockSizeMin: block, BlockSizeMax: block, SampleRate: 44100, NChannels: 1,
				BitsPerSample: 16, NSamples: uint64(44100 * seconds)})
			if err != nil {
				return err
			}
			for i := range 10 * seconds {
				part := samples[i%10*block : (i%10+1)*block]
				f := &frame.Frame{
					Header: frame.Header{HasFixedBlockSize: true, BlockSize: block, SampleRate: 44100,
						Channels: frame.ChannelsMono, BitsPerSample: 16, Num: uint64(i)},
					Subframes: []*frame.Subframe{{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim},
						Samples: part, NSamples: block}},
				}
				if err := enc.WriteFrame(f); err != nil {
					return err
				}
			}
			return enc.Close()
		})
	})
}

func BenchmarkSection60sOf60minMP3(b *testing.B) {
	path, data := fixture(b, "take.mp3")
	f, err := os.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	s, err := openMP3(f, int64(len(data)), f)
	if err != nil {
		b.Fatal(err)
	}
	defer s.close()
	sound := data[s.index[0]:]
	length := float64(len(s.index)*s.head.samples()) / float64(s.head.rate)
	benchmarkSection(b, func(b *testing.B, path string, seconds int) {
		create(b, path, func(w *bufio.Writer) error {
			for range int(float64(seconds) / length) {
				w.Write(sound)
			}
			return nil
		})
	})
}

func BenchmarkSection60sOf60minOgg(b *testing.B) {
	_, data := fixture(b, "take.ogg")
	pages := bytes.SplitAfter(data, []byte("OggS"))
	for i := range pages { // each page again with its own start
		pages[i] = append([]byte("OggS"), bytes.TrimSuffix(pages[i], []byte("OggS"))...)
	}
	pages = pages[1:]
	benchmarkSection(b, func(b *testing.B, path string, seconds int) {
		create(b, path, func(w *bufio.Writer) error {
			w.Write(pages[0])
			w.Write(pages[1])
			number, granule := uint32(2), uint64(0)
			for range seconds / 2 {
				end := uint64(0)
				for _, p := range pages[2:] {
					p = append([]byte(nil), p...)
					p[5] &^= 4 // not the last page
					end = binary.LittleEndian.Uint64(p[6:])
					binary.LittleEndian.PutUint64(p[6:], granule+end)
					binary.LittleEndian.PutUint32(p[18:], number)
					number++
					sealOgg(p)
					w.Write(p)
				}
				granule += end
			}
			return nil
		})
	})
}
