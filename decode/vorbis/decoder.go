package vorbis

// work is memory that is used again for every packet.
type work struct {
	interleaved []float32
	classes     []uint8
	spectra     [][]float32
	heights     [][maxFloorPoints]int
	sounding    []bool
	wanted      [][]float32
	first       []float32
	second      []float32
}

// decoder decodes packets one after the other.
type decoder struct {
	setup
	bits     bitReader
	work     work
	previous [][]float32 // second half of the last block of each channel
	primed   bool        // previous holds a block
	out      [][]float32
	joined   [][]float32
}

// reset forgets the block before.
func (d *decoder) reset() { d.primed = false }

// decode decodes an audio packet (4.3) and returns the samples of each channel
// from the middle of the block before to the middle of this one, none for the
// first block. They are valid until the next call.
func (d *decoder) decode(packet []byte) ([][]float32, error) {
	r := &d.bits
	r.reset(packet)
	if len(packet) == 0 || r.read(1) != 0 {
		return nil, damaged("not an audio packet")
	}
	m := int(r.read(d.modeBits))
	if m >= len(d.modes) || r.ended() {
		return nil, damaged("mode %d", m)
	}
	size := 0
	if d.modes[m].long {
		size = 1
		r.read(2) // the neighbours' sizes, which are known from the neighbours
	}
	n := d.blocks[size] / 2
	d.prepare()
	mp := &d.mappings[d.modes[m].mapping]
	d.spectrum(mp, n)
	return d.overlap(size, n), nil
}

// prepare allocates the memory for the largest block once.
func (d *decoder) prepare() {
	if d.out != nil {
		return
	}
	n := d.blocks[1] / 2
	w := &d.work
	for range d.channels {
		w.spectra = append(w.spectra, make([]float32, n))
		d.previous = append(d.previous, make([]float32, n))
		d.out = append(d.out, make([]float32, n))
	}
	w.heights = make([][maxFloorPoints]int, d.channels)
	w.sounding = make([]bool, d.channels)
	w.first, w.second = make([]float32, n), make([]float32, n)
}

// spectrum decodes the n spectral values of each channel (4.3.2 to 4.3.6).
func (d *decoder) spectrum(m *mapping, n int) {
	w, r := &d.work, &d.bits
	for c := range d.channels {
		f := &d.floors[m.submaps[m.mux[c]].floor]
		w.sounding[c] = f.decode(r, d.books, &w.heights[c])
		clear(w.spectra[c][:n])
	}
	// A coupled pair is decoded if either channel sounds (4.3.3).
	var wanted [256]bool
	copy(wanted[:], w.sounding)
	for _, p := range m.coupling {
		if wanted[p.magnitude] || wanted[p.angle] {
			wanted[p.magnitude], wanted[p.angle] = true, true
		}
	}
	for i, sub := range m.submaps {
		w.wanted = w.wanted[:0]
		for c := range d.channels {
			switch {
			case m.mux[c] != i:
			case wanted[c]:
				w.wanted = append(w.wanted, w.spectra[c][:n])
			default:
				w.wanted = append(w.wanted, nil)
			}
		}
		d.residues[sub.residue].decode(r, d.books, w.wanted, w)
	}
	for i := len(m.coupling) - 1; i >= 0; i-- {
		p := m.coupling[i]
		decouple(w.spectra[p.magnitude][:n], w.spectra[p.angle][:n])
	}
	for c := range d.channels {
		if !w.sounding[c] {
			clear(w.spectra[c][:n])
			continue
		}
		d.floors[m.submaps[m.mux[c]].floor].curve(&w.heights[c], d.floorLine, w.spectra[c][:n])
	}
}

// decouple turns magnitude and angle into two channels (4.3.5).
func decouple(magnitude, angle []float32) {
	for i, m := range magnitude {
		a := angle[i]
		switch {
		case m > 0 && a > 0:
			angle[i] = m - a
		case m > 0:
			angle[i], magnitude[i] = m, m+a
		case a > 0:
			angle[i] = m + a
		default:
			angle[i], magnitude[i] = m, m-a
		}
	}
}

// overlap transforms the spectra to time and joins the blocks (4.3.7, 4.3.8).
func (d *decoder) overlap(size, n int) [][]float32 {
	w := &d.work
	d.joined = d.joined[:0]
	for c := range d.channels {
		d.mdct[size].inverse(w.spectra[c][:n], w.first[:n], w.second[:n])
		if d.primed {
			out := d.out[c][:(len(d.previous[c])+n)/2]
			d.join(out, d.previous[c], w.first[:n])
			d.joined = append(d.joined, out)
		}
		d.previous[c] = append(d.previous[c][:0], w.second[:n]...)
	}
	d.primed = true
	return d.joined
}

// join adds the first half of a block to the second half of the one before,
// from middle to middle. They overlap as far as half the shorter block; beyond
// that each stands alone.
func (d *decoder) join(out, before, after []float32) {
	m := min(len(before), len(after))
	rise := d.slopes[1]
	if len(rise) != m {
		rise = d.slopes[0]
	}
	alone := copy(out, before[:(len(before)-m)/2])
	before, rest := before[alone:], after[(len(after)-m)/2:]
	for i := range m {
		out[alone+i] = before[i]*rise[m-1-i] + rest[i]*rise[i]
	}
	copy(out[alone+m:], rest[m:])
}
