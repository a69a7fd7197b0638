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
	return WriteWAVChannels(w, c.Rate, [][]float64{c.Samples})
}

// WriteWAVChannels is [WriteWAV] for channels of equal length at rate samples a
// second.
func WriteWAVChannels(w io.Writer, rate int, channels [][]float64) error {
	n, err := checkChannels(rate, channels)
	if err != nil {
		return fmt.Errorf("writing a WAV file: %w", err)
	}
	frame := 2 * len(channels) // bytes
	size := int64(frame) * int64(n)
	if size > math.MaxUint32-36 {
		return fmt.Errorf("cannot write a WAV file of %d samples: it holds at most 4 GiB", n)
	}
	b := make([]byte, 0, 44)
	le := binary.LittleEndian
	b = append(b, "RIFF"...)
	b = le.AppendUint32(b, uint32(36+size))
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, wavPCM)
	b = le.AppendUint16(b, uint16(len(channels)))
	b = le.AppendUint32(b, uint32(rate))       // Hz
	b = le.AppendUint32(b, uint32(frame*rate)) // bytes a second
	b = le.AppendUint16(b, uint16(frame))
	b = le.AppendUint16(b, 16) // bits
	b = append(b, "data"...)
	b = le.AppendUint32(b, uint32(size))
	bw := bufio.NewWriter(w)
	bw.Write(b) // errors stick to the writer and come out of Flush
	for i := range n {
		for _, x := range channels {
			bw.Write(le.AppendUint16(b[:0], uint16(quantize(x[i]))))
		}
	}
	if err := bw.Flush(); err != nil {
		return fmt.Errorf("writing a WAV file: %w", err)
	}
	return nil
}

// checkChannels returns the number of samples in each channel.
func checkChannels(rate int, channels [][]float64) (int, error) {
	switch {
	case rate < minRate || rate > maxRate:
		return 0, fmt.Errorf("%d Hz is no rate to write at", rate)
	case len(channels) == 0 || len(channels) > maxChannels:
		return 0, fmt.Errorf("%d channels", len(channels))
	}
	for _, x := range channels {
		if len(x) != len(channels[0]) {
			return 0, fmt.Errorf("channels of %d and %d samples", len(channels[0]), len(x))
		}
	}
	return len(channels[0]), nil
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
