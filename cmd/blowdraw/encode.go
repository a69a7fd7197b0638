package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"blowdraw/decode"
)

// soundForms are the endings of sound files: those that are written here, and the
// arguments of ffmpeg for those that it writes. AAC at 192 kbit/s and MP3 of variable rate
// at quality 2 are beyond what most hear (common practice, no source).
var soundForms = map[string][]string{
	".wav": nil, ".flac": nil,
	".mp3": {"-c:a", "libmp3lame", "-q:a", "2"},
	".m4a": {"-c:a", "aac", "-b:a", "192k"},
}

const soundNames = ".wav or .flac, or with ffmpeg .mp3 or .m4a"

// soundForm is the ending of a sound file in small letters.
func soundForm(path string) string { return strings.ToLower(filepath.Ext(path)) }

// noEncoderError is a form of sound that cannot be written here.
type noEncoderError struct{ form, why string }

func (e *noEncoderError) Error() string { return "can't write " + e.form + ": " + e.why }

// checkEncoder tells before the work whether a form of sound can be written.
func checkEncoder(form string) error {
	if soundForms[form] == nil {
		return nil
	}
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		return &noEncoderError{form, "that takes the program ffmpeg, which isn't installed"}
	}
	return nil
}

// writeSound writes channels in a form of sound.
func writeSound(ctx context.Context, w io.Writer, form string, rate int, channels [][]float64) error {
	switch form {
	case ".wav":
		return decode.WriteWAVChannels(w, rate, channels)
	case ".flac":
		return decode.WriteFLAC(w, rate, channels)
	}
	dir, err := os.MkdirTemp("", "blowdraw-*") // the end of an MP4 file is written before its beginning
	if err != nil {
		return fmt.Errorf("making a folder for %s: %w", form, err)
	}
	defer os.RemoveAll(dir)
	var wav bytes.Buffer
	if err := decode.WriteWAVChannels(&wav, rate, channels); err != nil {
		return err
	}
	file := filepath.Join(dir, "out"+form)
	args := append([]string{"-v", "error", "-nostdin", "-f", "wav", "-i", "pipe:0", "-map_metadata", "-1",
		"-fflags", "+bitexact", "-flags:a", "+bitexact"}, soundForms[form]...)
	c := exec.CommandContext(ctx, "ffmpeg", append(args, file)...)
	c.Stdin = &wav
	var said bytes.Buffer
	c.Stderr = &said
	if err := c.Run(); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		first, _, _ := strings.Cut(strings.TrimSpace(said.String()), "\n")
		if first == "" {
			first = err.Error()
		}
		return &noEncoderError{form, "ffmpeg says: " + shorten(first, 160)}
	}
	f, err := os.Open(file)
	if err != nil {
		return fmt.Errorf("reading what ffmpeg wrote: %w", err)
	}
	_, err = io.Copy(w, f)
	return errors.Join(err, f.Close())
}
