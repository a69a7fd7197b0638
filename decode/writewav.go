package decode

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// WriteWAV writes a clip as a WAV file of one channel and 16 bits. Samples
// beyond full scale are clipped; those that are not numbers become silence.
func WriteWAV(w io.Writer, c Clip) error {
	size := 2 * int64(len(c.Samples))
	if size > math.MaxUint32-36 {
		return fmt.Errorf("cannot write a WAV file of %d samples: it holds at most 4 GiB", len(c.Samples))
	}
	if c.Rate <= 0 || c.Rate > maxRate {
		return fmt.Errorf("cannot write a WAV file at %d Hz", c.Rate)
	}
	b := make([]byte, 0, 44)
	le := binary.LittleEndian
	b = append(b, "RIFF"...)
	b = le.AppendUint32(b, uint32(36+size))
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, wavPCM)
	b = le.AppendUint16(b, 1)                // channels
	b = le.AppendUint32(b, uint32(c.Rate))   // Hz
	b = le.AppendUint32(b, uint32(2*c.Rate)) // bytes a second
	b = le.AppendUint16(b, 2)                // bytes a frame
	b = le.AppendUint16(b, 16)               // bits
	b = append(b, "data"...)
	b = le.AppendUint32(b, uint32(size))
	bw := bufio.NewWriter(w)
	bw.Write(b) // errors stick to the writer and come out of Flush
	for _, v := range c.Samples {
		bw.Write(le.AppendUint16(b[:0], uint16(quantize(v))))
	}
	if err := bw.Flush(); err != nil {
		return fmt.Errorf("writing a WAV file: %w", err)
	}
	return nil
}

// quantize rounds to 16 bits.
func quantize(v float64) int16 {
	v = math.RoundToEven(v * (1 << 15))
	switch {
	case v != v:
		return 0
	case v > math.MaxInt16:
		return math.MaxInt16
	case v < math.MinInt16:
		return math.MinInt16
	}
	return int16(v)
}
