package decode

import (
	"bytes"
	"encoding/binary"
	"io"
	"unicode/utf8"
)

// Formats decoded here, and the name for what no signature fits.
const (
	formatWAV    = "WAV"
	formatMP3    = "MP3"
	formatFLAC   = "FLAC"
	formatVorbis = "Ogg Vorbis"

	formatUnknown = "a file of an unknown format"
)

// unsupported is the error for sound that is not decoded here.
type unsupported struct{ format string }

func (u *unsupported) Error() string { return "it is " + u.format + ", which is not read directly" }

// openFormat opens a recording by what its bytes say it is; the source closes the input.
func openFormat(in *input) (source, error) {
	// ID3 tags may stand before MP3, AAC and FLAC.
	start, size := int64(0), in.size
	w := &window{r: in, size: size}
	for {
		n, ok := id3Size(w.at(start, 10))
		if !ok {
			break
		}
		start += n
	}
	head := make([]byte, min(max(0, size-start), sniffSize))
	n, err := in.ReadAt(head, start)
	if n == 0 && err != io.EOF {
		return nil, err
	}
	head = head[:n] // a file may be shorter than it was a moment ago, or bad further on
	format, err := sniff(head)
	if start > 0 && (err != nil || format == formatUnknown) {
		format, err = formatMP3, nil // which may start later
	}
	if err != nil {
		return nil, err
	}
	switch format {
	case formatWAV:
		return openWAV(in, size, in)
	case formatMP3:
		return openMP3(in, size, in)
	case formatFLAC:
		return openFLAC(in, start, size, in)
	case formatVorbis:
		return openOgg(in, size, in)
	}
	return nil, &unsupported{format: format}
}

// sniffSize is the number of bytes looked at to tell a format.
const sniffSize = 64 << 10

// signature is how the files of a format start.
type signature struct {
	at     int
	bytes  string
	format string
}

// Sound, from the formats' own specifications; common knowledge, listed from
// memory.
var soundSignatures = []signature{
	{0, "fLaC", formatFLAC},
	{8, "WAVE", formatWAV}, // after RIFF or RF64, checked below
	{0, ".snd", "Sun audio (AU)"},
	{0, "caff", "Core Audio (CAF)"},
	{0, "wvpk", "WavPack"},
	{0, "MAC ", "Monkey's Audio"},
	{0, "riff\x2E\x91\xCF\x11", "Wave64"},
	{0, "#!AMR", "AMR"},
	{0, "ADIF", "AAC"},
	{0, "\x30\x26\xB2\x75\x8E\x66\xCF\x11", "Windows Media (WMA)"},
	{0, "\x1A\x45\xDF\xA3", "Matroska or WebM"},
	{0, "FLV\x01", "Flash video"},
	{0, "\x00\x00\x01\xBA", "MPEG video"},
	{8, "AVI ", "AVI video"},
}

// Files that hold no recording.
var otherSignatures = []signature{
	{0, "MThd", "a MIDI file: notes, not sound"},
	{0, "%PDF-", "a PDF document"},
	{0, "\x89PNG\r\n", "a picture (PNG)"},
	{0, "\xFF\xD8\xFF", "a picture (JPEG)"},
	{0, "GIF8", "a picture (GIF)"},
	{0, "PK\x03\x04", "a ZIP archive or an office document"},
	{0, "\x1F\x8B", "a compressed archive (gzip)"},
	{0, "BZh", "a compressed archive (bzip2)"},
	{0, "7z\xBC\xAF\x27\x1C", "a compressed archive (7z)"},
	{0, "Rar!\x1A\x07", "a compressed archive (RAR)"},
	{0, "\x7FELF", "a program"},
}

func (s signature) fits(head []byte) bool {
	return len(head) >= s.at+len(s.bytes) && string(head[s.at:s.at+len(s.bytes)]) == s.bytes
}

// sniff tells the format of a recording from its first bytes.
func sniff(head []byte) (string, error) {
	for _, s := range otherSignatures {
		if s.fits(head) {
			return "", problem("", "it is %s, not a recording", s.format)
		}
	}
	switch {
	case bytes.HasPrefix(head, []byte("OggS")):
		return sniffOgg(head), nil
	case len(head) >= 12 && string(head[4:8]) == "ftyp":
		if string(head[8:11]) == "M4A" || string(head[8:11]) == "M4B" {
			return "M4A (AAC)", nil
		}
		return "MP4", nil
	case len(head) >= 12 && string(head[:4]) == "FORM" && string(head[8:11]) == "AIF":
		return "AIFF", nil
	case len(head) >= 12 && string(head[8:12]) == "WAVE" &&
		string(head[:4]) != "RIFF" && string(head[:4]) != "RF64":
		return unknown(head)
	}
	for _, s := range soundSignatures {
		if s.fits(head) {
			return s.format, nil
		}
	}
	if isADTS(head) {
		return "AAC", nil
	}
	if f := sniffMPEG(head); f != "" {
		return f, nil
	}
	if len(head) >= 8 && string(head[:4]) == "RIFF" {
		return "", problem("", "its header is cut off or damaged: a RIFF file without sound")
	}
	return unknown(head)
}

func sniffOgg(head []byte) string {
	// RFC 3533, section 6: the first packet follows 27 bytes and the segment table.
	if len(head) < 28 || len(head) < 27+int(head[26])+8 {
		return "Ogg"
	}
	p := head[27+int(head[26]):]
	switch {
	case bytes.HasPrefix(p, []byte("\x01vorbis")):
		return formatVorbis
	case bytes.HasPrefix(p, []byte("OpusHead")):
		return "Ogg Opus"
	case bytes.HasPrefix(p, []byte("\x7FFLAC")):
		return "Ogg FLAC"
	case bytes.HasPrefix(p, []byte("Speex   ")):
		return "Ogg Speex"
	}
	return "Ogg"
}

// unknown judges a file without a known signature.
func unknown(head []byte) (string, error) {
	if isText(head) {
		return "", problem("", "it is plain text, not a recording")
	}
	return formatUnknown, nil
}

// isText reports whether the bytes look like text: UTF-8 or Latin-1 without
// control characters other than white space.
func isText(head []byte) bool {
	if bytes.HasPrefix(head, []byte("\xFF\xFE")) || bytes.HasPrefix(head, []byte("\xFE\xFF")) {
		return true // UTF-16
	}
	odd := 0
	for _, c := range head {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' && c != '\f' {
			return false
		}
		if c >= 0x7F {
			odd++
		}
	}
	return utf8.Valid(head) || odd*10 < len(head)
}

// id3Size returns the length of an ID3v2 tag at the start (ID3v2.4 structure,
// section 3.1: four bytes of seven bits).
func id3Size(head []byte) (int64, bool) {
	if len(head) < 10 || string(head[:3]) != "ID3" {
		return 0, false
	}
	n := int64(0)
	for _, c := range head[6:10] {
		if c > 0x7F {
			return 0, false
		}
		n = n<<7 | int64(c)
	}
	n += 10
	if head[5]&0x10 != 0 { // a footer repeats the header
		n += 10
	}
	return n, true
}

// isADTS reports whether the bytes start with two AAC frames in ADTS headers
// (ISO/IEC 13818-7, section 6.2).
func isADTS(head []byte) bool {
	if len(head) < 7 || binary.BigEndian.Uint16(head)&0xFFF6 != 0xFFF0 {
		return false
	}
	n := int(head[3]&3)<<11 | int(head[4])<<3 | int(head[5])>>5
	return n >= 7 && len(head) >= n+2 && binary.BigEndian.Uint16(head[n:])&0xFFF6 == 0xFFF0
}

// sniffMPEG looks for two MPEG audio frames in a row (ISO/IEC 11172-3,
// 2.4.2.3), which may come after some bytes of something else.
func sniffMPEG(head []byte) string {
	for i := 0; i+4 <= len(head) && i < 8192; i++ {
		h, ok := parseMP3Header(head[i:])
		if !ok {
			continue
		}
		next := i + h.size()
		if next+4 > len(head) {
			if i == 0 {
				return formatMP3 // a single frame
			}
			continue
		}
		if g, ok := parseMP3Header(head[next:]); ok && g.like(h) {
			return formatMP3
		}
	}
	if len(head) >= 4 && head[0] == 0xFF && head[1]&0xE0 == 0xE0 && head[1]&0x18 != 0x08 &&
		head[2]>>4 != 15 && !isText(head) {
		switch head[1] >> 1 & 3 {
		case 1:
			return "MP3 (MPEG-2.5 or free format)"
		case 2:
			return "MPEG audio, layer II"
		case 3:
			return "MPEG audio, layer I"
		}
	}
	return ""
}
