// Package decode opens a section of a recording as mono samples at a stated
// rate.
//
// WAV, MP3, FLAC and Ogg Vorbis are decoded here; anything else goes through
// the ffmpeg program when there is one. What a file is, is told by its bytes,
// never by its name. A section costs what the section holds, whatever the
// length of the recording around it, and only a few blocks are in memory at a
// time.
//
// # Time
//
// Sample n of a recording at rate R stands for the time n/R seconds. With
// Options.From the stream starts at sample round(From·R) of the whole
// recording at the wanted rate, and from there on gives exactly the samples,
// bit for bit, that decoding the whole recording would give. Samples before
// the start and after the end of the recording count as zero where the
// resampling filter looks across its edges.
//
// # WAV
//
// The samples of WAV files are read and written here, since package wav of go-audio reads
// whole numbers of 8 to 32 bits only, knows neither floating-point samples nor
// WAVE_FORMAT_EXTENSIBLE nor RF64, and allocates what the header of a chunk claims. Chunk
// headers are read with go-audio's package riff.
package decode

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"

	"blowdraw/decode/resample"
)

// Channel says how the channels of a recording become one. The zero value is the
// mean of all; the others need two.
type Channel struct {
	base base
	less float64 // how much of the other channel is taken away
}

type base int

const (
	both base = iota
	first
	second
	halfDifference
)

// Mix is the mean of all channels, Left the first, Right the second, Side half
// the difference of the first and the second: it silences what sits in the
// middle of a stereo picture.
var (
	Mix   = Channel{}
	Left  = Channel{base: first}
	Right = Channel{base: second}
	Side  = Channel{base: halfDifference}
)

// mostLess bounds what [LeftLess] and [RightLess] take away.
const mostLess = 10

// LeftLess is the left channel less g times the right one, g from 0 to 10, divided
// by 1+g so that it never is louder than full scale: it silences what sounds g
// times as loud on the left as on the right. (Gain scaling and phase cancellation,
// Barry, Lawlor & Coyle 2004, "Sound source separation: azimuth discrimination and
// resynthesis", DAFx; from memory.) g is rounded to three decimals.
func LeftLess(g float64) Channel { return less(first, g) }

// RightLess is [LeftLess] the other way round.
func RightLess(g float64) Channel { return less(second, g) }

func less(b base, g float64) Channel {
	return Channel{b, min(max(0, math.Round(1000*g)/1000), mostLess)}
}

var channelNames = [...]string{"mix", "left", "right", "side"}

// String returns "mix", "left", "right", "side", or as in "left-0.25right" of what
// is less a share of the other channel.
func (c Channel) String() string {
	name := channelNames[c.base]
	if c.less > 0 {
		name += "-" + strconv.FormatFloat(c.less, 'f', -1, 64) + channelNames[first+second-c.base]
	}
	return name
}

// ParseChannel reads the name of a channel; the empty string is Mix.
func ParseChannel(s string) (Channel, error) {
	if s == "" {
		return Mix, nil
	}
	for i, name := range channelNames {
		if strings.EqualFold(s, name) {
			return Channel{base: base(i)}, nil
		}
	}
	if c, ok := parseLess(strings.ToLower(s)); ok {
		return c, nil
	}
	return Mix, fmt.Errorf("unknown channel %q: choose mix, left, right, side, "+
		"or one less a share of the other as in left-0.25right", s)
}

// parseLess reads what is less a share of the other channel.
func parseLess(s string) (Channel, bool) {
	for _, b := range []base{first, second} {
		share, ok := strings.CutPrefix(s, channelNames[b]+"-")
		if !ok {
			continue
		}
		if share, ok = strings.CutSuffix(share, channelNames[first+second-b]); !ok {
			return Mix, false
		}
		g, err := strconv.ParseFloat(share, 64)
		return less(b, g), err == nil && g >= 0 && g <= mostLess
	}
	return Mix, false
}

// Options say which section of a recording to open and how.
type Options struct {
	Rate    int     // Hz; 0: the recording's own
	From    float64 // seconds from the start of the recording
	To      float64 // seconds from the start of the recording; 0 or less: to the end
	Channel Channel
}

// Info describes a recording.
type Info struct {
	Format   string  // "WAV", "MP3", …
	Rate     int     // Hz
	Channels int     // number of channels
	Duration float64 // seconds; 0 if the file does not say
}

// source is a recording in its own rate and channels.
type source interface {
	info() Info
	// frames is the number of samples of each channel, -1 if unknown.
	frames() int64
	// seek makes frame n the next to be read and returns n, or the number of
	// frames in the recording if that is less. It is called once at most,
	// before the first read.
	seek(n int64) (int64, error)
	// read fills dst with interleaved samples and returns the number of
	// frames, at least one, or an error: io.EOF where the recording ends,
	// io.ErrUnexpectedEOF where the file ends too early.
	read(dst []float64) (int, error)
	warnings() []string
	close() error
}

// Stream is a section of a recording being read.
type Stream struct {
	path   string
	in     *input // nil where another program reads the recording
	src    source
	info   Info
	rate   int   // Hz, of the stream
	first  int64 // first sample, counted from the start of the recording
	pos    int64 // next sample
	end    int64 // sample to stop before; grows unknown as math.MaxInt64
	mix    Channel
	filter *resample.Filter

	raw      []float64 // interleaved block from the source
	mono     []float64 // input at the recording's rate, from frame monoAt on
	monoAt   int64
	read     int64 // next frame of the source
	atEnd    bool
	bad      int64 // samples that were not numbers
	badAt    int64
	trouble  string // why the recording ended early
	asked    float64
	err      error
	warnings []string
}

const blockFrames = 4096

// Open opens a section of a recording. The error is an *Error.
func Open(path string, opt Options) (*Stream, error) {
	if err := checkOptions(opt); err != nil {
		return nil, &Error{Path: path, Problem: err.Error(), Err: err}
	}
	in, err := openFile(path)
	if err != nil {
		return nil, named(path, err)
	}
	s, err := openInput(path, in, opt)
	var u *unsupported
	if errors.As(err, &u) {
		return openStream(path, nil, opt, func() (source, error) { return openExternal(path, u.format, opt) })
	}
	return s, err
}

// openInput opens a section of a recording that is decoded here, and names it path in
// errors. The stream, or the error, closes the input.
func openInput(path string, in *input, opt Options) (*Stream, error) {
	s, err := openStream(path, in, opt, func() (source, error) { return openFormat(in) })
	if err == nil {
		return s, nil
	}
	in.Close()
	if in.err != nil {
		return nil, &Error{Path: path, Problem: "it cannot be read: " + cause(in.err), Err: in.err}
	}
	return nil, err
}

// openStream opens a section of the source that open opens. A panic in a library counts
// as damage.
func openStream(path string, in *input, opt Options, open func() (source, error)) (s *Stream, err error) {
	defer func() {
		if r := recover(); r != nil {
			s, err = nil, &Error{
				Path: path, Problem: "it is damaged: its header makes no sense", Err: fmt.Errorf("panic: %v", r),
			}
		}
	}()
	src, err := open()
	if err != nil {
		return nil, named(path, err)
	}
	if s, err = newStream(path, src, opt); err != nil {
		src.close()
		return nil, named(path, err)
	}
	s.in = in
	return s, nil
}

func checkOptions(opt Options) error {
	switch {
	case opt.Rate != 0 && (opt.Rate < 1000 || opt.Rate > maxRate):
		return fmt.Errorf("cannot resample to %d Hz: choose between 1000 and %d", opt.Rate, maxRate)
	case math.IsNaN(opt.From) || math.IsInf(opt.From, 0) || opt.From < 0 || opt.From > 1e9:
		return fmt.Errorf("the section cannot start at %g s", opt.From)
	case math.IsNaN(opt.To) || math.IsInf(opt.To, 0) || opt.To > 1e9:
		return fmt.Errorf("the section cannot end at %g s", opt.To)
	case opt.To > 0 && opt.To <= opt.From:
		return fmt.Errorf("the section ends at %s, before it starts at %s", Clock(opt.To), Clock(opt.From))
	}
	return nil
}

// named puts the file's name on an error.
func named(path string, err error) error {
	var e *Error
	if errors.As(err, &e) {
		if e.Path == "" {
			e.Path = path
		}
		return e
	}
	return &Error{Path: path, Problem: err.Error(), Err: err}
}

// openFile opens a regular file.
func openFile(path string) (*input, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, fileProblem(err)
	}
	if st.IsDir() {
		return nil, problem("Name one recording inside it.", "it is a folder, not a recording")
	}
	if !st.Mode().IsRegular() {
		return nil, problem("Save the recording to a file first.", "it is not a regular file")
	}
	if st.Size() == 0 {
		return nil, problem("", "the file is empty")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fileProblem(err)
	}
	return &input{r: f, size: st.Size(), closer: f}, nil
}

func fileProblem(err error) *Error {
	e := &Error{Err: err}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		e.Problem = "there is no such file"
	case errors.Is(err, fs.ErrPermission):
		e.Problem = "you may not read this file"
	default:
		e.Problem = cause(err)
	}
	return e
}

// cause is what an error of the file system says, without the file's name.
func cause(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

func newStream(path string, src source, opt Options) (*Stream, error) {
	s := &Stream{path: path, src: src, info: src.info(), mix: opt.Channel, end: math.MaxInt64}
	if err := checkClaims(int64(s.info.Rate), s.info.Channels); err != nil {
		return nil, err
	}
	if s.info.Channels == 1 && s.mix != Mix {
		if s.mix == Side {
			return nil, problem("Choose the channel mix.", "it has one channel, so there is no side signal")
		}
		s.warnings = append(s.warnings, "the recording has one channel only; it is used")
		s.mix = Mix
	}
	s.rate = s.info.Rate
	if opt.Rate > 0 {
		s.rate = opt.Rate
	}
	if s.rate != s.info.Rate {
		f, err := resample.New(s.info.Rate, s.rate)
		if err != nil {
			return nil, err
		}
		s.filter = f
	}
	if n := src.frames(); n >= 0 {
		if n == 0 {
			return nil, problem("", "it holds no sound")
		}
		length := float64(n) / float64(s.info.Rate)
		if opt.From >= length {
			return nil, outside(opt.From, length)
		}
	}
	s.first = int64(math.Round(opt.From * float64(s.rate)))
	s.pos = s.first
	if opt.To > 0 {
		s.end = int64(math.Round(opt.To * float64(s.rate)))
		s.asked = opt.To
	}
	s.raw = make([]float64, max(1, blockFrames*2/s.info.Channels)*s.info.Channels)
	first := s.pos
	if s.filter != nil {
		first, _ = s.filter.Span(s.pos)
	}
	if first > 0 {
		reached, err := src.seek(first)
		if err != nil {
			return nil, err
		}
		if reached < first {
			return nil, outside(opt.From, float64(reached)/float64(s.info.Rate))
		}
		s.read = first
	} else {
		s.mono = make([]float64, -first) // silence before the recording
	}
	s.monoAt = first
	return s, nil
}

func outside(from, length float64) *Error {
	return problem(fmt.Sprintf("Choose a section between 0 and %s.", Clock(length)),
		"the section starts at %s but the recording is only %s long", Clock(from), Clock(length))
}

// Info describes the recording. Duration is known better once the end was
// read.
func (s *Stream) Info() Info { return s.info }

// Rate returns the sampling rate of the stream in Hz.
func (s *Stream) Rate() int { return s.rate }

// Start returns the time of the next sample in seconds from the start of the
// recording.
func (s *Stream) Start() float64 { return float64(s.pos) / float64(s.rate) }

// Warnings tells what was not as it should be, so far: sentences without a
// full stop.
func (s *Stream) Warnings() []string {
	w := append([]string(nil), s.warnings...)
	w = append(w, s.src.warnings()...)
	if s.trouble != "" {
		w = append(w, s.trouble)
	}
	if s.bad > 0 {
		w = append(w, fmt.Sprintf("%s not a number, the first at %s: silence instead",
			count(s.bad, "sample is", "samples are"), Clock(float64(s.badAt)/float64(s.info.Rate))))
	}
	return w
}

// count writes a number with its noun.
func count(n int64, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Close closes the recording.
func (s *Stream) Close() error { return s.src.close() }

// Read fills dst with the next samples and returns how many. At the end of the
// section it returns 0 and io.EOF.
func (s *Stream) Read(dst []float64) (n int, err error) {
	if s.err != nil {
		return 0, s.err
	}
	defer func() {
		if r := recover(); r != nil {
			at := Clock(float64(s.read) / float64(s.info.Rate))
			s.err = &Error{Path: s.path, Problem: "it is damaged after " + at, Err: fmt.Errorf("panic: %v", r)}
			n, err = 0, s.err
		}
	}()
	for n < len(dst) {
		k, err := s.readSome(dst[n:])
		n += k
		if err != nil {
			s.err = err
			break
		}
	}
	if n > 0 {
		return n, nil
	}
	return 0, s.err
}

// readSome makes at least one output sample or returns an error.
func (s *Stream) readSome(dst []float64) (int, error) {
	if s.pos >= s.end {
		return 0, io.EOF
	}
	last := s.pos
	if s.filter != nil {
		_, last = s.filter.Span(s.pos)
	}
	for s.monoAt+int64(len(s.mono)) <= last {
		if s.atEnd {
			s.mono = append(s.mono, make([]float64, last+blockFrames-s.monoAt-int64(len(s.mono)))...)
			break
		}
		if err := s.fill(); err != nil {
			return 0, err
		}
		if s.pos >= s.end {
			return 0, io.EOF
		}
	}
	return s.produce(dst), nil
}

// produce computes as many output samples as the input at hand allows and forgets
// the input that is no longer needed.
func (s *Stream) produce(dst []float64) int {
	n := int64(len(dst))
	n = min(n, s.end-s.pos)
	have := s.monoAt + int64(len(s.mono))
	if s.filter == nil {
		n = min(n, have-s.pos)
		copy(dst[:n], s.mono[s.pos-s.monoAt:])
		s.pos += n
		s.drop(s.pos)
		return int(n)
	}
	n = min(n, s.filter.Reach(have)-s.pos)
	s.filter.Apply(dst[:n], s.pos, s.mono, s.monoAt)
	s.pos += n
	first, _ := s.filter.Span(s.pos)
	s.drop(first)
	return int(n)
}

// drop forgets the input before frame n once enough has gathered.
func (s *Stream) drop(n int64) {
	k := n - s.monoAt
	if k < int64(len(s.mono)) && k < 8*blockFrames {
		return
	}
	k = min(k, int64(len(s.mono)))
	s.mono = s.mono[:copy(s.mono, s.mono[k:])]
	s.monoAt += k
}

// fill reads one block from the source and appends it to the mono signal.
func (s *Stream) fill() error {
	ch := s.info.Channels
	n, err := s.readSource()
	if n == 0 && err != nil {
		return s.finish(err)
	}
	raw := s.raw[:n*ch]
	for i, v := range raw {
		if v-v != 0 { // NaN or infinite
			if s.bad == 0 {
				s.badAt = s.read + int64(i/ch)
			}
			s.bad++
			raw[i] = 0
		}
	}
	s.mono = appendMono(s.mono, raw, ch, s.mix)
	s.read += int64(n)
	return nil
}

// readSource reads a block. A panic inside a library counts as damage.
func (s *Stream) readSource() (n int, err error) {
	defer func() {
		if r := recover(); r != nil {
			n, err = 0, fmt.Errorf("the decoder gave up: %v", r)
		}
	}()
	n, err = s.src.read(s.raw)
	if n == 0 && err == nil {
		err = io.ErrNoProgress
	}
	return n, err
}

// finish handles the end of the source, expected or not.
func (s *Stream) finish(err error) error {
	at := float64(s.read) / float64(s.info.Rate)
	nothing := at <= float64(s.first)/float64(s.rate) // of the section was read
	if s.in != nil && s.in.err != nil && (err != io.EOF || s.read == 0) {
		what := "cannot be read after " + Clock(at) + " (" + cause(s.in.err) + ")"
		if nothing {
			return &Error{Path: s.path, Problem: "it " + what, Err: s.in.err}
		}
		s.trouble = what + "; transcribed as far as it goes"
	} else if err != io.EOF && err != io.ErrUnexpectedEOF {
		var e *Error
		if errors.As(err, &e) {
			return named(s.path, err)
		}
		if nothing {
			return &Error{
				Path: s.path, Problem: "it is damaged at " + Clock(at) + ": nothing of the section can be read", Err: err,
			}
		}
		s.trouble = "damaged after " + Clock(at) + "; transcribed as far as it goes"
	}
	s.atEnd = true
	switch {
	case s.trouble != "":
	case err == io.ErrUnexpectedEOF:
		s.trouble = "truncated after " + Clock(at) + "; transcribed as far as it goes"
	case err == io.EOF && s.asked > at+0.05:
		s.trouble = fmt.Sprintf("the section ends at %s but the recording at %s", Clock(s.asked), Clock(at))
	}
	end := s.read
	if s.filter != nil {
		end = s.filter.Len(s.read)
	}
	s.end = min(s.end, end)
	if s.read == 0 {
		return &Error{Path: s.path, Problem: "it holds no sound", Err: err}
	}
	s.info.Duration = at
	return nil
}

// appendMono appends the interleaved frames of raw to dst as one channel.
func appendMono(dst, raw []float64, ch int, mix Channel) []float64 {
	switch {
	case ch == 1:
		return append(dst, raw...)
	case mix.base == first:
		own, other := 1/(1+mix.less), mix.less/(1+mix.less)
		for i := 0; i < len(raw); i += ch {
			dst = append(dst, own*raw[i]-other*raw[i+1])
		}
	case mix.base == second:
		own, other := 1/(1+mix.less), mix.less/(1+mix.less)
		for i := 0; i < len(raw); i += ch {
			dst = append(dst, own*raw[i+1]-other*raw[i])
		}
	case mix == Side:
		for i := 0; i < len(raw); i += ch {
			dst = append(dst, (raw[i]-raw[i+1])/2)
		}
	case ch == 2:
		for i := 0; i < len(raw); i += 2 {
			dst = append(dst, (raw[i]+raw[i+1])/2)
		}
	default:
		for i := 0; i < len(raw); i += ch {
			sum := 0.0
			for _, v := range raw[i : i+ch] {
				sum += v
			}
			dst = append(dst, sum/float64(ch))
		}
	}
	return dst
}

// Clip is a section held in memory.
type Clip struct {
	Rate    int       // Hz
	Start   float64   // seconds from the start of the recording
	Samples []float64 // full scale is 1
}

// mostLoaded is the most samples that [Load] holds: 2 GiB, 3 hours and 22 minutes at
// 22.05 kHz. A file of a megabyte can hold days of sound.
const mostLoaded = 1 << 28

// Load reads a section of a recording into memory. It also returns what the
// recording is and the warnings of the stream. A section too long to be held is an error.
func Load(path string, opt Options) (Clip, Info, []string, error) {
	return load(path, opt, mostLoaded)
}

// load is [Load] of at most so many samples.
func load(path string, opt Options, most int) (Clip, Info, []string, error) {
	s, err := Open(path, opt)
	if err != nil {
		return Clip{}, Info{}, nil, err
	}
	defer s.Close()
	c := Clip{Rate: s.Rate(), Start: s.Start()}
	want := s.info.Duration
	if opt.To > 0 {
		want = min(want, opt.To)
	}
	if (want-opt.From)*float64(c.Rate) > float64(most) {
		return Clip{}, s.Info(), s.Warnings(), tooLong(path, c.Rate, most)
	}
	// A header's word is good for a few megabytes, no more.
	guess := min(max(want-opt.From, 0)*float64(c.Rate)+blockFrames, 1<<21)
	c.Samples = make([]float64, 0, int(guess))
	for {
		c.Samples = grow(c.Samples)
		n, err := s.Read(c.Samples[len(c.Samples):cap(c.Samples)])
		c.Samples = c.Samples[:len(c.Samples)+n]
		if len(c.Samples) > most {
			return Clip{}, s.Info(), s.Warnings(), tooLong(path, c.Rate, most)
		}
		if err == io.EOF {
			break
		}
		if err != nil {
			return Clip{}, s.Info(), s.Warnings(), err
		}
	}
	if len(c.Samples) == 0 {
		if d := s.Info().Duration; opt.From >= d {
			return Clip{}, s.Info(), s.Warnings(), named(path, outside(opt.From, d))
		}
		return Clip{}, s.Info(), s.Warnings(), &Error{Path: path, Problem: "the section holds no sound"}
	}
	return c, s.Info(), s.Warnings(), nil
}

func tooLong(path string, rate, most int) *Error {
	longest := Clock(float64(most) / float64(rate))
	return &Error{
		Path:    path,
		Problem: "it is too long to be held in memory: more than " + longest,
		Hint:    "Choose a section of it.",
	}
}

// grow returns x with room for at least one more sample.
func grow(x []float64) []float64 {
	if len(x) < cap(x) {
		return x
	}
	bigger := make([]float64, len(x), cap(x)+cap(x)/2+blockFrames)
	copy(bigger, x)
	return bigger
}
