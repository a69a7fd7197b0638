package main

import (
	"bytes"
	"testing"
	"unicode"
	"unicode/utf8"
)

// Whatever is printed, in pieces cut anywhere: nothing that steers a terminal comes through,
// and all else does.
func FuzzScreen(f *testing.F) {
	for _, s := range []string{"plain\n\ttext", "a\x1b[2J\x07b\r", "\u0085\u009b2J", "\u202eabc\u2066",
		"𝄞 口琴", "\xff\xc2", "\xc2\x9b31m"} {
		f.Add([]byte(s), uint8(1))
		f.Add([]byte(s), uint8(3))
	}
	f.Fuzz(func(t *testing.T, b []byte, piece uint8) {
		var out bytes.Buffer
		s := &screen{w: &out, clean: true}
		for rest := b; len(rest) > 0; {
			n := min(len(rest), int(piece%16)+1)
			if k, err := s.Write(rest[:n]); k != n || err != nil {
				t.Fatalf("%d of %d bytes, %v", k, n, err)
			}
			rest = rest[n:]
		}
		got := out.String()
		if !utf8.ValidString(got) {
			t.Fatalf("%q became %q", b, got)
		}
		for _, r := range got {
			if unicode.IsControl(r) && r != '\n' && r != '\t' || unicode.Is(unicode.Bidi_Control, r) &&
				r != 0x200e && r != 0x200f && r != 0x61c { // marks of direction, which turn nothing
				t.Fatalf("%q became %q", b, got)
			}
		}
		if want := string(b); utf8.ValidString(want) && printable(want) == want && got != want {
			t.Fatalf("%q became %q", b, got)
		}
	})
}
