package decode

import "fmt"

// Limits on what a header may claim. Beyond them it is taken to be damaged or hostile, since
// a rate of 1 Hz makes hours of a few kilobytes, and thousands of channels make one sample
// of them.
const (
	// From half the 8 kHz of a telephone (ITU-T G.711) to what measuring sound cards offer
	// (common practice, no source).
	minRate = 4_000   // Hz
	maxRate = 768_000 // Hz
	// As many as one cable of a recording studio carries (AES10, MADI; from memory).
	maxChannels = 64
	// Bits of a FLAC sample (RFC 9639, section 8.2).
	minFLACBits = 4
	// Samples of each channel in a FLAC block, and bytes of the shortest frame: a header of
	// six, a constant of one and a checksum of two (RFC 9639, section 9). Some less is said
	// here, so that no odd but true file is refused.
	maxFLACBlock  = 65535
	leastFLACSize = 8
)

// notRecorded is the hint for a claim that no recording makes.
const notRecorded = "The file is damaged, or a program wrote it wrongly: " +
	"save the recording once more as WAV or FLAC."

// checkClaims checks the sampling rate in Hz and the number of channels that a header states.
func checkClaims(rate int64, channels int) error {
	switch {
	case rate < minRate || rate > maxRate:
		return problem(notRecorded, "its header states an impossible sampling rate: %d Hz, not %d to %d",
			rate, minRate, maxRate)
	case channels < 1 || channels > maxChannels:
		return problem(notRecorded, "its header states an impossible number of channels: %d, not 1 to %d",
			channels, maxChannels)
	}
	return nil
}

// silence bounds the silence that stands for what is missing of a recording, so that a few
// bytes with a false position do not make hours of it.
type silence struct {
	rate   int   // Hz
	filled int64 // samples of silence so far
}

// longestGap is the longest gap, and the silence that a recording of no sound may hold, in
// seconds.
const longestGap = 30

// fill counts n samples of silence after heard samples of sound. All silence together may
// be as long as the sound and longestGap more.
func (s *silence) fill(n, heard int64) error {
	most := int64(longestGap) * int64(s.rate)
	if n > most || s.filled+n > heard+most {
		return fmt.Errorf("too much is missing")
	}
	s.filled += n
	return nil
}
