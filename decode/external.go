package decode

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Formats that are not decoded here go through the ffmpeg program, if there is
// one, as a pipe of WAV in 32-bit floating point.

// preroll is how long before a section ffmpeg starts, in seconds: most lossy
// formats need a few frames to come right.
const preroll = 0.25

// exactSeek names the formats in which ffmpeg finds a time to the sample. In
// others it may be off by milliseconds, so there the recording is decoded from
// its beginning, and a section costs more the later it is. Found by
// measurement, see TestExternalSections.
var exactSeek = map[string]bool{
	"AIFF": true, "Core Audio (CAF)": true, "Sun audio (AU)": true, "WavPack": true,
	"M4A (AAC)": true, "MP4": true, "Ogg Opus": true, "Ogg FLAC": true,
}

// externalSource reads a recording through ffmpeg.
type externalSource struct {
	program  string
	path     string
	format   string
	head     wavHeader
	duration float64 // seconds, 0 if not known
	limit    float64 // seconds to decode up to, 0: to the end
	cmd      *exec.Cmd
	cancel   context.CancelFunc
	stderr   *tail
	wav      *wavSource
	heard    bool // samples came
	patience time.Duration
	stopped  bool // it took longer than patience
}

// patience is how long ffmpeg may take for its next samples: far more than any computer
// needs for a file on its own disk.
const patience = time.Minute

// openExternal opens a recording of the named format through ffmpeg.
func openExternal(path, format string, opt Options) (*externalSource, error) {
	program, err := exec.LookPath("ffmpeg")
	if err != nil && format == formatUnknown {
		return nil, problem("", "it is not a recording of a known format")
	}
	if err != nil {
		return nil, &Error{
			Problem: "it is " + format + ", which is not read directly",
			Hint: "Install the ffmpeg program, which is then used to read it, " +
				"or save the recording as WAV, FLAC, MP3 or Ogg Vorbis.",
			Err: err,
		}
	}
	s := &externalSource{program: program, path: path, format: format, patience: patience}
	if opt.To > 0 {
		s.limit = opt.To + 1 // the resampling filter looks ahead
	}
	if err := s.probe(); err != nil {
		return nil, err
	}
	return s, nil
}

// arguments of ffmpeg that decode the recording from a time on, for a length in
// seconds, 0: to the end. No other file and no network is touched, whatever the
// recording refers to.
func (s *externalSource) arguments(from, length float64) []string {
	path, err := filepath.Abs(s.path)
	if err != nil {
		path = s.path
	}
	args := []string{"-hide_banner", "-nostdin", "-protocol_whitelist", "file,pipe"}
	if from > 0 {
		args = append(args, "-ss", strconv.FormatFloat(from, 'f', 6, 64))
	}
	if length > 0 {
		args = append(args, "-t", strconv.FormatFloat(length, 'f', 6, 64))
	}
	return append(args, "-i", "file:"+path, "-map", "0:a:0", "-c:a", "pcm_f32le", "-f", "wav", "pipe:1")
}

var durationLine = regexp.MustCompile(`Duration: (\d+):(\d\d):(\d\d\.\d+)`)

// probe learns the sampling rate, the channels and the duration.
func (s *externalSource) probe() error {
	ctx, cancel := context.WithTimeout(context.Background(), s.patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, s.program, s.arguments(0, 0.05)...)
	var out bytes.Buffer
	errs := &tail{}
	cmd.Stdout, cmd.Stderr = &out, errs
	cmd.WaitDelay = time.Second
	err := cmd.Run()
	if ctx.Err() != nil {
		return s.stalled()
	}
	if err == nil {
		s.head, err = readWAVHeader(&out, -1)
	}
	if err != nil {
		return s.failure(errs, err)
	}
	if m := durationLine.FindStringSubmatch(errs.text()); m != nil {
		h, _ := strconv.ParseFloat(m[1], 64)
		min, _ := strconv.ParseFloat(m[2], 64)
		sec, _ := strconv.ParseFloat(m[3], 64)
		s.duration = h*3600 + min*60 + sec
	}
	return nil
}

// failure is the error for a recording that ffmpeg cannot read.
func (s *externalSource) failure(errs *tail, err error) *Error {
	var claim *Error
	if errors.As(err, &claim) && claim.Hint == notRecorded {
		return claim
	}
	e := &Error{Err: err}
	text := strings.ToLower(errs.text())
	switch {
	case strings.Contains(text, "matches no streams"):
		e.Problem = "it is " + s.format + " without any sound"
	case s.format == formatUnknown:
		e.Problem = "it is not a recording of a known format"
	default:
		e.Problem = fmt.Sprintf("it is %s, and ffmpeg cannot read it: it may be damaged", s.format)
	}
	return e
}

// stalled is the error for a recording over which ffmpeg falls silent.
func (s *externalSource) stalled() *Error {
	return problem("Save the recording as WAV, FLAC, MP3 or Ogg Vorbis.",
		"it is %s, and ffmpeg gave nothing for %v", s.format, s.patience)
}

// tail is a writer that keeps what was written first and last.
type tail struct{ first, last []byte }

func (t *tail) Write(p []byte) (int, error) {
	const keep = 8 << 10
	n := len(p)
	if room := keep - len(t.first); room > 0 {
		k := min(room, len(p))
		t.first, p = append(t.first, p[:k]...), p[k:]
	}
	t.last = append(t.last, p...)
	if extra := len(t.last) - keep; extra > 0 {
		t.last = append(t.last[:0], t.last[extra:]...)
	}
	return n, nil
}

func (t *tail) text() string { return string(t.first) + string(t.last) }

func (s *externalSource) info() Info {
	return Info{Format: s.format, Rate: s.head.rate, Channels: s.head.channels, Duration: s.duration}
}

func (s *externalSource) frames() int64      { return -1 } // the stated duration is not exact
func (s *externalSource) warnings() []string { return nil }

// start runs ffmpeg from frame n on.
func (s *externalSource) start(n int64) error {
	from := float64(n) / float64(s.head.rate)
	length := 0.0
	if s.limit > 0 {
		length = s.limit - from
	}
	ctx, cancel := context.WithCancel(context.Background())
	s.cancel = cancel
	s.cmd = exec.CommandContext(ctx, s.program, s.arguments(from, length)...)
	s.cmd.WaitDelay = time.Second
	s.stderr = &tail{}
	s.cmd.Stderr = s.stderr
	out, err := s.cmd.StdoutPipe()
	if err != nil {
		return fmt.Errorf("starting ffmpeg: %w", err)
	}
	if err := s.cmd.Start(); err != nil {
		return fmt.Errorf("starting ffmpeg: %w", err)
	}
	watch := time.AfterFunc(s.patience, s.cancel)
	s.wav, err = openPipedWAV(out)
	if !watch.Stop() && err != nil {
		return s.stalled()
	}
	if err != nil {
		return s.failure(s.stderr, err)
	}
	if s.wav.head.rate != s.head.rate || s.wav.head.channels != s.head.channels {
		return errors.New("ffmpeg changed the sampling rate in the middle")
	}
	return nil
}

func (s *externalSource) seek(n int64) (int64, error) {
	rate := float64(s.head.rate)
	if s.duration > 0 && float64(n) > (s.duration+1)*rate {
		return int64(s.duration * rate), nil
	}
	pos := int64(0)
	if exactSeek[s.format] {
		pos = max(0, n-int64(preroll*rate))
	}
	if err := s.start(pos); err != nil {
		return 0, err
	}
	ch := s.head.channels
	buf := make([]float64, ch*blockFrames)
	for pos < n {
		k, err := s.next(buf[:ch*int(min(blockFrames, n-pos))])
		if err == io.EOF {
			return pos, nil
		}
		if err != nil {
			return pos, err
		}
		pos += int64(k)
		s.heard = true
	}
	return n, nil
}

func (s *externalSource) read(dst []float64) (int, error) {
	if s.cmd == nil {
		if err := s.start(0); err != nil {
			return 0, err
		}
	}
	n, err := s.next(dst)
	if err == io.EOF && !s.heard {
		return 0, s.failure(s.stderr, err)
	}
	s.heard = true
	return n, err
}

// next reads what ffmpeg writes next, and stops it where nothing comes.
func (s *externalSource) next(dst []float64) (int, error) {
	watch := time.AfterFunc(s.patience, s.cancel)
	n, err := s.wav.read(dst)
	s.stopped = s.stopped || !watch.Stop()
	if n == 0 && s.stopped {
		return 0, s.stalled()
	}
	return n, err
}

func (s *externalSource) close() error {
	if s.cmd == nil {
		return nil
	}
	s.cancel()
	if s.cmd.Process != nil {
		s.cmd.Wait() // it was stopped: its exit status says nothing
	}
	return nil
}
