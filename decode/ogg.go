package decode

import (
	"encoding/binary"
	"errors"
	"io"

	"blowdraw/decode/vorbis"
)

// oggSource decodes an Ogg Vorbis file.
type oggSource struct {
	r      *vorbis.Reader
	closer io.Closer
}

// openOgg opens the Ogg Vorbis data of r, size bytes.
func openOgg(r io.ReaderAt, size int64, closer io.Closer) (*oggSource, error) {
	if err := checkOggClaims(r); err != nil {
		return nil, err
	}
	v, err := vorbis.Open(r, size)
	if errors.Is(err, vorbis.ErrFloor0) {
		return nil, &unsupported{format: formatVorbis + " of a very old kind"}
	}
	if err != nil {
		return nil, &Error{Problem: "its header is damaged or cut off", Err: err}
	}
	return &oggSource{v, closer}, nil
}

// checkOggClaims checks the channels and the rate before anything is decoded: they stand 11
// and 12 bytes into the first packet (Vorbis I, 4.2.2), which follows 27 bytes and the
// segment table (RFC 3533, section 6).
func checkOggClaims(r io.ReaderAt) error {
	var b [27 + 255 + 16]byte
	n, _ := r.ReadAt(b[:], 0)
	at := 27 + int(b[26])
	if n < at+16 {
		return nil // which is told when the header is read
	}
	return checkClaims(int64(binary.LittleEndian.Uint32(b[at+12:])), int(b[at+11]))
}

func (s *oggSource) info() Info {
	i := Info{Format: formatVorbis, Rate: s.r.Rate(), Channels: s.r.Channels()}
	if n := s.r.Len(); n > 0 {
		i.Duration = float64(n) / float64(i.Rate)
	}
	return i
}

func (s *oggSource) frames() int64                   { return s.r.Len() }
func (s *oggSource) seek(n int64) (int64, error)     { return s.r.SeekTo(n) }
func (s *oggSource) read(dst []float64) (int, error) { return s.r.Read(dst) }
func (s *oggSource) close() error                    { return s.closer.Close() }

func (s *oggSource) warnings() []string {
	var w []string
	if n := s.r.Damages(); n > 0 {
		w = append(w, count(int64(n), "damaged place", "damaged places")+": silence instead")
	}
	if s.r.More() {
		w = append(w, "the file holds several recordings one after the other; only the first is read")
	}
	return w
}
