package midi

import "errors"

var (
	errCut      = errors.New("it is cut off or damaged")
	errNoTracks = errors.New("it says that it has no tracks")
)

// checkLengths walks through a file and fails if a length that it states goes
// beyond its end, for which the library (gitlab.com/gomidi/midi/v2) would make room
// before it looks. Where no tracks are stated the library would go on to the end of the
// file, so that is a failure, too.
func checkLengths(b []byte) error {
	s := scanner{b: b}
	s.skip(4 + 4 + 2) // MThd, its length, the format
	tracks := s.big(2)
	s.skip(2) // the resolution
	if !s.cut && tracks == 0 {
		return errNoTracks
	}
	for !s.cut && tracks > 0 {
		if s.chunk() {
			tracks--
		}
	}
	if s.cut {
		return errCut
	}
	return nil
}

// scanner reads a file from its front; cut is set where it ends too early.
type scanner struct {
	b       []byte
	at      int
	running byte
	cut     bool
}

func (s *scanner) skip(n int) {
	if n < 0 || n > len(s.b)-s.at {
		s.cut = true
		return
	}
	s.at += n
}

func (s *scanner) byte() byte {
	if s.at >= len(s.b) {
		s.cut = true
		return 0
	}
	s.at++
	return s.b[s.at-1]
}

// big is a number of n bytes, the highest first.
func (s *scanner) big(n int) int {
	v := 0
	for range n {
		v = v<<8 | int(s.byte())
	}
	return v
}

// variable is a number in groups of seven bits, the highest first; all but the last
// have the eighth bit set.
func (s *scanner) variable() int {
	v := 0
	for range 4 {
		c := s.byte()
		v = v<<7 | int(c&0x7f)
		if c < 0x80 {
			return v
		}
	}
	s.cut = true
	return 0
}

// chunk passes one chunk and reports whether it was a track. A track goes on until
// it is said to end, as it does for the library, whatever its length.
func (s *scanner) chunk() bool {
	s.skip(4)
	kind, size := string(s.b[max(0, s.at-4):s.at]), s.big(4)
	if kind != "MTrk" {
		s.skip(size)
		return false
	}
	for !s.cut {
		s.variable() // time
		if s.event() {
			break
		}
	}
	return true
}

// event passes one event and reports whether it ends the track.
func (s *scanner) event() bool {
	status := s.byte()
	switch {
	case status == 0xff:
		kind := s.byte()
		s.skip(s.variable())
		return kind == 0x2f
	case status == 0xf0 || status == 0xf7:
		s.skip(s.variable())
		return false
	case status >= 0xf0:
		s.cut = true
		return true
	case status >= 0x80:
		s.running = status
		s.byte()
	}
	if k := s.running & 0xf0; k != 0xc0 && k != 0xd0 { // those have one byte
		s.byte()
	}
	return false
}
