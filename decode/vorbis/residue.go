package vorbis

// residue is the fine structure of the spectrum (8).
type residue struct {
	kind       int
	begin, end int
	size       int // of a partition
	classes    int
	book       int // for the classes of partitions
	books      [][8]int
}

// parse reads the setup (8.6.1).
func (s *residue) parse(r *bitReader, books []codebook) error {
	s.kind = int(r.read(16))
	s.begin, s.end = int(r.read(24)), int(r.read(24))
	s.size = int(r.read(24)) + 1
	s.classes = int(r.read(6)) + 1
	s.book = int(r.read(8))
	if s.kind > 2 || s.book >= len(books) || s.end < s.begin {
		return damaged("type %d, codebook %d, from %d to %d", s.kind, s.book, s.begin, s.end)
	}
	if books[s.book].dims == 0 {
		return damaged("class book without dimensions")
	}
	cascade := make([]int, s.classes)
	for i := range cascade {
		cascade[i] = int(r.read(3))
		if r.read(1) == 1 {
			cascade[i] |= int(r.read(5)) << 3
		}
	}
	s.books = make([][8]int, s.classes)
	for i := range s.books {
		for pass := range 8 {
			s.books[i][pass] = -1
			if cascade[i]>>pass&1 == 0 {
				continue
			}
			b := int(r.read(8))
			if b >= len(books) || !books[b].lookup {
				return damaged("codebook %d", b)
			}
			s.books[i][pass] = b
		}
	}
	if r.ended() {
		return damaged("cut off")
	}
	return nil
}

// decode reads the residue of several channels (8.6.2). Silent channels, where
// decoding is not wanted, are nil.
func (s *residue) decode(r *bitReader, books []codebook, out [][]float32, w *work) {
	if s.kind != 2 {
		s.vectors(r, books, out, w)
		return
	}
	// Type 2: all channels interleaved as one, if any is wanted (8.6.5).
	n, any := 0, false
	for _, v := range out {
		if v != nil {
			n, any = len(v), true
		}
	}
	if !any {
		return
	}
	if cap(w.interleaved) < n*len(out) {
		w.interleaved = make([]float32, n*len(out))
	}
	all := w.interleaved[:n*len(out)]
	clear(all)
	s.vectors(r, books, [][]float32{all}, w)
	for c, v := range out {
		for i := range v {
			v[i] += all[i*len(out)+c]
		}
	}
}

// vectors reads residues of type 0 and 1, or one interleaved one. At the end of
// the packet it stops: what was read stays (8.6.2).
func (s *residue) vectors(r *bitReader, books []codebook, out [][]float32, w *work) {
	size := 0
	for _, v := range out {
		size = max(size, len(v))
	}
	begin, end := min(s.begin, size), min(s.end, size)
	parts := (end - begin) / s.size
	if parts == 0 {
		return
	}
	classBook := &books[s.book]
	words := classBook.dims
	stride := parts + words
	if need := stride * len(out); cap(w.classes) < need {
		w.classes = make([]uint8, need)
	}
	classes := w.classes[:stride*len(out)]
	for pass := range 8 {
		for p := 0; p < parts; {
			if pass == 0 {
				for c, v := range out {
					if v == nil {
						continue
					}
					e := classBook.decode(r)
					if e < 0 {
						return
					}
					for i := words - 1; i >= 0; i-- {
						classes[c*stride+p+i] = uint8(e % s.classes)
						e /= s.classes
					}
				}
			}
			for i := 0; i < words && p < parts; i++ {
				for c, v := range out {
					if v == nil {
						continue
					}
					b := s.books[classes[c*stride+p]][pass]
					if b < 0 {
						continue
					}
					at := begin + p*s.size
					if !s.partition(r, &books[b], v[at:at+s.size]) {
						return
					}
				}
				p++
			}
		}
	}
}

// partition adds one partition's vectors to v (8.6.3, 8.6.4).
func (s *residue) partition(r *bitReader, b *codebook, v []float32) bool {
	if s.kind == 0 {
		step := len(v) / b.dims
		for i := range step {
			e := b.vector(r)
			if e == nil {
				return false
			}
			for j, x := range e {
				v[i+j*step] += x
			}
		}
		return true
	}
	for i := 0; i < len(v); i += b.dims {
		e := b.vector(r)
		if e == nil {
			return false
		}
		for j, x := range e[:min(len(e), len(v)-i)] {
			v[i+j] += x
		}
	}
	return true
}
