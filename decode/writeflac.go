package decode

import (
	"crypto/md5"
	"encoding/binary"
	"fmt"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// WriteFLAC writes one or two channels of equal length, at rate samples a second,
// as a FLAC file of 16 bits (RFC 9639). Samples beyond full scale are clipped;
// those that are not numbers become silence.
func WriteFLAC(w io.Writer, rate int, channels [][]float64) error {
	n, err := checkChannels(rate, channels)
	if err == nil && len(channels) > 2 {
		err = fmt.Errorf("%d channels: want one or two", len(channels))
	}
	if err == nil && n < leastFLAC {
		err = fmt.Errorf("only %d samples", n)
	}
	if err != nil {
		return fmt.Errorf("writing a FLAC file: %w", err)
	}
	samples := make([][]int32, len(channels))
	for c, x := range channels {
		samples[c] = make([]int32, n)
		for i, v := range x {
			samples[c][i] = int32(quantize(v))
		}
	}
	info := &meta.StreamInfo{
		BlockSizeMin: blockFrames, BlockSizeMax: blockFrames,
		SampleRate: uint32(rate), NChannels: uint8(len(channels)), BitsPerSample: 16,
		NSamples: uint64(n), MD5sum: digest(samples),
	}
	enc, err := flac.NewEncoder(w, info)
	if err != nil {
		return fmt.Errorf("writing a FLAC file: %w", err)
	}
	for at := 0; at < n; at += blockFrames {
		if err := enc.WriteFrame(flacFrame(rate, samples, at, min(at+blockFrames, n))); err != nil {
			return fmt.Errorf("writing a FLAC file: %w", err)
		}
	}
	return nil
}

// leastFLAC is the shortest block of a FLAC stream, in samples.
const leastFLAC = 16

// digest is the MD5 sum of the interleaved samples, which the header holds.
func digest(samples [][]int32) [md5.Size]byte {
	h := md5.New()
	var b []byte
	for i := range samples[0] {
		b = b[:0]
		for _, x := range samples {
			b = binary.LittleEndian.AppendUint16(b, uint16(x[i]))
		}
		h.Write(b)
	}
	return [md5.Size]byte(h.Sum(nil))
}

func flacFrame(rate int, samples [][]int32, from, to int) *frame.Frame {
	f := &frame.Frame{Header: frame.Header{
		HasFixedBlockSize: true, BlockSize: uint16(to - from), SampleRate: uint32(rate),
		Channels: frame.ChannelsMono, BitsPerSample: 16,
	}}
	if len(samples) == 2 {
		f.Channels = frame.ChannelsLR
	}
	for _, x := range samples {
		f.Subframes = append(f.Subframes, &frame.Subframe{
			SubHeader: frame.SubHeader{Pred: frame.PredVerbatim},
			Samples:   x[from:to], NSamples: to - from,
		})
	}
	return f
}
