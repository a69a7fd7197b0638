// Package vorbis decodes Vorbis I audio in Ogg files.
//
// It follows the Xiph.Org Foundation's "Vorbis I specification" (2020); the
// numbers in comments are its sections. The Ogg framing is that of RFC 3533.
//
// A Vorbis stream has three header packets: identification (rate, channels,
// two block sizes), comment (skipped here) and setup (codebooks, floors,
// residues, mappings and modes). Every audio packet is one block: for each
// channel a coarse spectral curve (the floor) times the fine structure (the
// residue), transformed to time by an inverse MDCT, windowed, and added to the
// second half of the block before. So a packet yields sound only together with
// the one before it, from the middle of the earlier block to the middle of the
// later.
//
// Floor type 0 is not decoded: ErrFloor0 is returned. No encoder has used it
// since the format was published.
//
// It is the project's own because bindings of the reference library need cgo, without
// which the program is built, and because package decode asks the same of every format: a
// section that is reached by bisection over pages has the samples of the whole decoded, to
// the bit; a damaged page costs its own samples, for which silence stands so that the rest
// keeps its time, and is counted; and a few bytes of header cannot ask for gigabytes.
package vorbis

import (
	"errors"
	"fmt"
	"math/bits"
)

// ErrFloor0 is the error for a stream with floors of type 0.
var ErrFloor0 = errors.New("vorbis: floor type 0 is not decoded")

// errDamaged is the error for a packet that breaks the rules.
var errDamaged = errors.New("vorbis: damaged packet")

func damaged(format string, args ...any) error {
	return fmt.Errorf("%w: %s", errDamaged, fmt.Sprintf(format, args...))
}

// setup is what the header packets tell.
type setup struct {
	channels  int
	rate      int
	blocks    [2]int // sizes in samples, short and long
	books     []codebook
	floors    []floor1
	residues  []residue
	mappings  []mapping
	modes     []mode
	modeBits  int
	mdct      [2]*mdct
	slopes    [2][]float32 // rising half of the window of each size
	floorLine []float32    // floor values by index, 10.1
}

// mapping tells which floor and residue serve which channel (4.2.4).
type mapping struct {
	coupling []couple
	mux      []int // submap of each channel
	submaps  []submap
}

type couple struct{ magnitude, angle int }
type submap struct{ floor, residue int }

type mode struct {
	long    bool
	mapping int
}

// ilog is the position of the highest set bit, from 1; 0 for 0 (9.2.1).
func ilog(x int) int { return bits.Len(uint(max(x, 0))) }

// packetStart checks the type and the name at the start of a header (4.2.1).
func packetStart(p []byte, kind byte) (*bitReader, error) {
	if len(p) < 7 || p[0] != kind || string(p[1:7]) != "vorbis" {
		return nil, damaged("no header of type %d", kind)
	}
	r := newBitReader(p)
	r.pos = 7 * 8
	return r, nil
}

// identification reads the first header (4.2.2).
func (s *setup) identification(p []byte) error {
	r, err := packetStart(p, 1)
	if err != nil {
		return err
	}
	version := r.read(32)
	s.channels = int(r.read(8))
	s.rate = int(r.read(32))
	r.pos += 3 * 32 // bit rates
	small, large := int(r.read(4)), int(r.read(4))
	framing := r.read(1)
	switch {
	case r.ended():
		return damaged("identification header cut off")
	case version != 0:
		return damaged("version %d", version)
	case s.channels == 0 || s.rate == 0:
		return damaged("%d channels at %d Hz", s.channels, s.rate)
	case small < 6 || small > large || large > 13:
		return damaged("block sizes 2^%d and 2^%d", small, large)
	case framing != 1:
		return damaged("no framing bit")
	}
	s.blocks = [2]int{1 << small, 1 << large}
	return nil
}

// setupHeader reads the third header (4.2.4).
func (s *setup) setupHeader(p []byte) error {
	r, err := packetStart(p, 5)
	if err != nil {
		return err
	}
	s.books = make([]codebook, r.read(8)+1)
	budget := maxTable
	for i := range s.books {
		if err := s.books[i].parse(r, &budget); err != nil {
			return fmt.Errorf("codebook %d: %w", i, err)
		}
	}
	for range r.read(6) + 1 { // time domain transforms: placeholders
		if r.read(16) != 0 {
			return damaged("time domain transform")
		}
	}
	s.floors = make([]floor1, r.read(6)+1)
	for i := range s.floors {
		if t := r.read(16); t != 1 {
			if t == 0 && !r.ended() {
				return ErrFloor0
			}
			return damaged("floor type %d", t)
		}
		if err := s.floors[i].parse(r, s.books); err != nil {
			return fmt.Errorf("floor %d: %w", i, err)
		}
	}
	s.residues = make([]residue, r.read(6)+1)
	for i := range s.residues {
		if err := s.residues[i].parse(r, s.books); err != nil {
			return fmt.Errorf("residue %d: %w", i, err)
		}
	}
	s.mappings = make([]mapping, r.read(6)+1)
	for i := range s.mappings {
		if err := s.mappings[i].parse(r, s); err != nil {
			return fmt.Errorf("mapping %d: %w", i, err)
		}
	}
	s.modes = make([]mode, r.read(6)+1)
	for i := range s.modes {
		m := &s.modes[i]
		m.long = r.read(1) == 1
		window, transform := r.read(16), r.read(16)
		m.mapping = int(r.read(8))
		if window != 0 || transform != 0 || m.mapping >= len(s.mappings) {
			return damaged("mode %d", i)
		}
	}
	if r.read(1) != 1 || r.ended() {
		return damaged("setup header cut off")
	}
	s.modeBits = ilog(len(s.modes) - 1)
	s.floorLine = inverseDB()
	for i, n := range s.blocks {
		s.mdct[i] = newMDCT(n)
		s.slopes[i] = slope(n / 2)
	}
	return nil
}

func (m *mapping) parse(r *bitReader, s *setup) error {
	if t := r.read(16); t != 0 {
		return damaged("type %d", t)
	}
	submaps := 1
	if r.read(1) == 1 {
		submaps = int(r.read(4)) + 1
	}
	if r.read(1) == 1 {
		m.coupling = make([]couple, r.read(8)+1)
		n := ilog(s.channels - 1)
		for i := range m.coupling {
			c := couple{int(r.read(n)), int(r.read(n))}
			if c.magnitude == c.angle || c.magnitude >= s.channels || c.angle >= s.channels {
				return damaged("channels %d and %d coupled", c.magnitude, c.angle)
			}
			m.coupling[i] = c
		}
	}
	if r.read(2) != 0 {
		return damaged("reserved bits")
	}
	m.mux = make([]int, s.channels)
	if submaps > 1 {
		for i := range m.mux {
			if m.mux[i] = int(r.read(4)); m.mux[i] >= submaps {
				return damaged("submap %d", m.mux[i])
			}
		}
	}
	m.submaps = make([]submap, submaps)
	for i := range m.submaps {
		r.read(8) // time configuration: unused
		b := submap{int(r.read(8)), int(r.read(8))}
		if b.floor >= len(s.floors) || b.residue >= len(s.residues) {
			return damaged("floor %d, residue %d", b.floor, b.residue)
		}
		m.submaps[i] = b
	}
	if r.ended() {
		return damaged("cut off")
	}
	return nil
}
