package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"html/template"
	"strings"

	"blowdraw/decode"
)

// Sound is samples of that rate in Hz as it stands in a page: FLAC, which browsers play and
// which loses nothing, as base64 in quotes.
func Sound(rate int, samples []float64) (template.JS, error) {
	var b bytes.Buffer
	if err := decode.WriteFLAC(&b, rate, [][]float64{samples}); err != nil {
		return "", err
	}
	if b.Len() > MostBytes {
		return "", &TooLongError{b.Len()}
	}
	return template.JS(`"` + base64.StdEncoding.EncodeToString(b.Bytes()) + `"`), nil
}

// Policy is the content security policy of a page that loads nothing and has but that style
// and script; media are the sources of its sound.
func Policy(media, style, script string) string {
	return fmt.Sprintf("default-src 'none'; base-uri 'none'; form-action 'none'; media-src %s; "+
		"style-src %s; script-src %s", media, hash(style), hash(script))
}

// hash names an inline style or script in a content security policy (W3C Content
// Security Policy Level 3, section 2.3.1).
func hash(source string) string {
	sum := sha256.Sum256([]byte(source))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// Palette is the part of the page's style that names its colours, for light and dark.
func Palette() string {
	colours, _, _ := strings.Cut(read("page.css"), "\n* {")
	return colours + "\n"
}
