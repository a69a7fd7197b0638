package decode

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"log"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/decode/programs"
)

// The tests in this file compare with programs that have nothing to do with
// this project: sox and lame, flac, oggenc and ffmpeg as encoders, ffmpeg, sox,
// mpg123, flac and oggdec as decoders. They are skipped where a program is
// missing, unless CI is set.

// command runs a program and returns what it wrote to standard output.
func command(t testing.TB, line string, args ...any) []byte {
	t.Helper()
	words := strings.Fields(fmt.Sprintf(line, args...))
	cmd := exec.Command(words[0], words[1:]...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", strings.Join(words, " "), err, errs.String())
	}
	return out
}

// float64s reads little-endian doubles.
func float64s(b []byte) []float64 {
	x := make([]float64, len(b)/8)
	for i := range x {
		x[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return x
}

// byFFmpeg decodes with ffmpeg to interleaved doubles.
func byFFmpeg(t testing.TB, path string) []float64 {
	return float64s(command(t, "ffmpeg -v error -nostdin -i %s -c:a pcm_f64le -f f64le -", path))
}

// floats32 reads little-endian floats.
func floats32(b []byte) []float64 {
	x := make([]float64, len(b)/4)
	for i := range x {
		x[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:])))
	}
	return x
}

// interleaved loads a file of two channels channel by channel.
func interleaved(t testing.TB, path string) []float64 {
	t.Helper()
	left, info, warnings, err := Load(path, Options{Channel: Left})
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if info.Channels == 1 {
		return left.Samples
	}
	if len(warnings) > 0 {
		t.Errorf("%s: warnings %q", path, warnings)
	}
	right, _, _, err := Load(path, Options{Channel: Right})
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	x := make([]float64, 2*len(left.Samples))
	for i := range left.Samples {
		x[2*i], x[2*i+1] = left.Samples[i], right.Samples[i]
	}
	return x
}

// difference returns the RMS and the largest difference.
func difference(a, b []float64) (rms, most float64) {
	for i := range a {
		d := math.Abs(a[i] - b[i])
		rms += d * d
		most = max(most, d)
	}
	return math.Sqrt(rms / float64(len(a))), most
}

// noisySox makes a WAV file of tones and noise with sox.
func noisySox(t testing.TB, path, format string, seconds float64) {
	command(t, "sox -R -n %s %s synth %g sine 300-1800 synth %g pinknoise mix gain -4",
		format, path, seconds, seconds)
}

func TestWAVAgainstFFmpegAndSox(t *testing.T) {
	programs.Need(t, "sox", "ffmpeg")
	dir := t.TempDir()
	for i, f := range []string{
		"-r 8000 -c 1 -b 8 -e unsigned",
		"-r 44100 -c 2 -b 16",
		"-r 48000 -c 2 -b 24",
		"-r 96000 -c 2 -b 32 -e signed",
		"-r 44100 -c 2 -b 32 -e float",
		"-r 192000 -c 2 -b 64 -e float",
		"-r 11025 -c 1 -b 16",
	} {
		path := filepath.Join(dir, fmt.Sprintf("%d.wav", i))
		noisySox(t, path, f, 1.3)
		got := interleaved(t, path)
		for name, want := range map[string][]float64{
			"ffmpeg": byFFmpeg(t, path),
			"sox":    float64s(command(t, "sox %s -t raw -e float -b 64 -", path)),
		} {
			if len(got) != len(want) {
				t.Errorf("%s: %d samples, %s gives %d", f, len(got), name, len(want))
				continue
			}
			// sox passes everything through 32-bit whole numbers
			if _, most := difference(got, want); most > 0 && (name != "sox" || most > 1.0/(1<<31)) {
				t.Errorf("%s: differs from %s by up to %g", f, name, most)
			}
		}
	}
}

// One channel less a share of the other, against sox's remix.
func TestLessAgainstSox(t *testing.T) {
	programs.Need(t, "sox")
	path := filepath.Join(t.TempDir(), "x.wav")
	noisySox(t, path, "-r 44100 -c 2 -b 16", 0.5)
	for c, remix := range map[Channel]string{
		LeftLess(0.25): "1v0.8,2v-0.2", RightLess(0.6): "2v0.625,1v-0.375", LeftLess(1): "1v0.5,2v-0.5", Right: "2",
	} {
		got, _, _, err := Load(path, Options{Channel: c})
		if err != nil {
			t.Fatal(err)
		}
		want := float64s(command(t, "sox %s -t raw -e float -b 64 - remix %s", path, remix))
		if got, most := difference(got.Samples, want); most > 1e-7 { // sox counts in 32-bit whole numbers
			t.Errorf("%v: differs from sox by %g at most, RMS %g", c, most, got)
		}
	}
}

// Many channels and odd containers, written by ffmpeg: WAVE_FORMAT_EXTENSIBLE,
// RF64, and a pipe, whose sizes are not filled in.
func TestWAVVariantsAgainstFFmpeg(t *testing.T) {
	programs.Need(t, "sox", "ffmpeg")
	dir := t.TempDir()
	six := filepath.Join(dir, "six.wav")
	noisySox(t, six, "-r 44100 -c 6 -b 16", 1)
	for name, args := range map[string]string{
		"extensible.wav": "-c:a pcm_s24le",
		"rf64.wav":       "-c:a pcm_s16le -rf64 always",
		"float.wav":      "-c:a pcm_f32le",
	} {
		path := filepath.Join(dir, name)
		command(t, "ffmpeg -v error -nostdin -i %s %s %s", six, args, path)
		checkMixOfSix(t, path, byFFmpeg(t, path))
	}
	piped := filepath.Join(dir, "piped.wav")
	wav := command(t, "ffmpeg -v error -nostdin -i %s -c:a pcm_s16le -f wav -", six)
	if err := os.WriteFile(piped, wav, 0o644); err != nil {
		t.Fatal(err)
	}
	checkMixOfSix(t, piped, byFFmpeg(t, piped))
}

func checkMixOfSix(t *testing.T, path string, want []float64) {
	t.Helper()
	c, info, warnings, err := Load(path, Options{})
	if err != nil || info.Channels != 6 || len(warnings) > 0 || len(c.Samples) != len(want)/6 {
		t.Errorf("%s: %+v, %d samples, warnings %q, error %v", path, info, len(c.Samples), warnings, err)
		return
	}
	for i, v := range c.Samples {
		sum := 0.0
		for _, w := range want[6*i : 6*i+6] {
			sum += w
		}
		if math.Abs(v-sum/6) > 1e-15 {
			t.Errorf("%s: sample %d is %g, want %g", path, i, v, sum/6)
			return
		}
	}
}

func TestFLACAgainstReference(t *testing.T) {
	programs.Need(t, "sox", "flac")
	dir := t.TempDir()
	for i, f := range []struct{ wav, flac string }{
		{"-r 44100 -c 2 -b 16", "-8"},
		{"-r 44100 -c 2 -b 16", "-0 -b 1152"},
		{"-r 48000 -c 1 -b 16", "--no-seektable -5"},
		{"-r 96000 -c 2 -b 24", "-5"},
		{"-r 8000 -c 1 -b 8 -e unsigned", "-5"},
		{"-r 24000 -c 2 -b 16", "-5"},
		{"-r 176400 -c 2 -b 24", "-5"},
		{"-r 22050 -c 2 -b 16", "-b 16384 --lax -l 32"},
	} {
		wav := filepath.Join(dir, fmt.Sprintf("%d.wav", i))
		path := filepath.Join(dir, fmt.Sprintf("%d.flac", i))
		noisySox(t, wav, f.wav, 3)
		var printed bytes.Buffer
		log.SetOutput(&printed)
		defer log.SetOutput(os.Stderr)
		command(t, "flac -s %s %s -o %s", f.flac, wav, path)
		decoded := filepath.Join(dir, fmt.Sprintf("%d.decoded.wav", i))
		command(t, "flac -s -d %s -o %s", path, decoded)
		got, want := interleaved(t, path), interleaved(t, decoded)
		if len(got) != len(want) {
			t.Errorf("%v: %d samples, flac gives %d", f, len(got), len(want))
			continue
		}
		if _, most := difference(got, want); most > 0 {
			t.Errorf("%v: differs from flac by up to %g", f, most)
		}
		if printed.Len() > 0 {
			t.Errorf("%v: the log says %q", f, printed.String())
		}
		whole, _, _, err := Load(path, Options{Rate: 22050})
		if err != nil {
			t.Fatal(err)
		}
		checkSections(t, path, whole, Options{Rate: 22050})
	}
}

// ISO/IEC 11172-4 calls a decoder of full accuracy when the RMS difference from
// the reference is below 2^-15/√12 of full scale (and no sample is off by more
// than 2^-14), and one of limited accuracy when the RMS is below 2^-11/√12. The
// decoder used here is required to be the latter. Written from memory of the
// standard.
var limitedAccuracy = math.Exp2(-11) / math.Sqrt(12)

// encoding is how sox writes a WAV file and how an encoder writes it anew.
type encoding struct{ wav, args string }

func TestMP3AgainstReference(t *testing.T) {
	checkMP3(t, []encoding{
		{"-r 44100 -c 2 -b 16", "-b 128"},
		{"-r 44100 -c 2 -b 16", "-V 9"},
		{"-r 44100 -c 1 -b 16", "-b 32 --resample 32"},
		{"-r 48000 -c 2 -b 16", "-b 160"},
		{"-r 22050 -c 2 -b 16", "-V 2"},
	})
}

// checkMP3 compares with ffmpeg and mpg123 what lame has encoded.
func checkMP3(t *testing.T, encodings []encoding) {
	programs.Need(t, "sox", "lame", "ffmpeg", "mpg123")
	dir := t.TempDir()
	for i, f := range encodings {
		wav := filepath.Join(dir, fmt.Sprintf("%d.wav", i))
		path := filepath.Join(dir, fmt.Sprintf("%d.mp3", i))
		noisySox(t, wav, f.wav, 4)
		command(t, "lame --quiet %s %s %s", f.args, wav, path)
		got := interleaved(t, path)
		ffmpeg, mpg123 := byFFmpeg(t, path), floats32(command(t, "mpg123 -q -e f32 -s %s", path))
		if len(got) != len(ffmpeg) || len(got) != len(mpg123) {
			t.Errorf("%v: %d samples, ffmpeg gives %d, mpg123 %d", f, len(got), len(ffmpeg), len(mpg123))
			continue
		}
		rms, most := difference(got, mpg123)
		t.Logf("%v: RMS %.3f, at most %.2f of a 16-bit step from mpg123 (full accuracy: 0.289 and 2)",
			f, rms*(1<<15), most*(1<<15))
		if rms >= limitedAccuracy || most > math.Exp2(-14) {
			t.Errorf("%v: differs from mpg123 by RMS %g, at most %g", f, rms, most)
		}
		if r, _ := difference(ffmpeg, mpg123); r >= limitedAccuracy {
			// at 24 kHz they use different scale factor bands
			t.Logf("%v: ffmpeg differs from mpg123 by RMS %g and is left out", f, r)
			continue
		}
		if rms, most := difference(got, ffmpeg); rms >= limitedAccuracy || most > math.Exp2(-14) {
			t.Errorf("%v: differs from ffmpeg by RMS %g, at most %g", f, rms, most)
		}
		whole, _, _, err := Load(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		checkSections(t, path, whole, Options{})
	}
}

func TestVorbisAgainstReference(t *testing.T) {
	checkVorbis(t, []encoding{
		{"-r 44100 -c 2 -b 16", "-q 3"},
		{"-r 44100 -c 2 -b 16", "-q 10"},
		{"-r 22050 -c 1 -b 16", "-q 1"},
	})
}

// checkVorbis compares with oggdec and ffmpeg what oggenc has encoded.
func checkVorbis(t *testing.T, encodings []encoding) {
	programs.Need(t, "sox", "oggenc", "oggdec", "ffmpeg")
	dir := t.TempDir()
	for i, f := range encodings {
		wav := filepath.Join(dir, fmt.Sprintf("%d.wav", i))
		path := filepath.Join(dir, fmt.Sprintf("%d.ogg", i))
		noisySox(t, wav, f.wav, 6)
		command(t, "oggenc -Q %s %s -o %s", f.args, wav, path)
		command(t, "oggdec -Q -o %s %s", wav, path)
		got, oggdec, ffmpeg := interleaved(t, path), interleaved(t, wav), byFFmpeg(t, path)
		if len(got) != len(oggdec) {
			t.Errorf("%v: %d samples, oggdec gives %d", f, len(got), len(oggdec))
			continue
		}
		rms, most := difference(got, oggdec)
		t.Logf("%v: against oggdec RMS %.3f, at most %.3f of a 16-bit step", f, rms*(1<<15), most*(1<<15))
		// oggdec rounds to 16 bits: half a step, and a little for its own arithmetic
		if most*(1<<15) > 0.6 {
			t.Errorf("%v: differs from oggdec by up to %g", f, most)
		}
		// ffmpeg gives floats, but does not trim the end in all versions
		n := min(len(got), len(ffmpeg))
		if rms, most := difference(got[:n], ffmpeg); rms > 2e-6 || most > 2e-5 {
			t.Errorf("%v: differs from ffmpeg by RMS %g, at most %g", f, rms, most)
		}
		whole, _, _, err := Load(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		checkSections(t, path, whole, Options{})
	}
}

// More channels than two, and the order of coupling that comes with them.
func TestVorbisSixChannels(t *testing.T) {
	programs.Need(t, "sox", "oggenc", "ffmpeg")
	dir := t.TempDir()
	wav, path := filepath.Join(dir, "6.wav"), filepath.Join(dir, "6.ogg")
	noisySox(t, wav, "-r 48000 -c 6 -b 16", 2)
	command(t, "oggenc -Q %s -o %s", wav, path)
	want := byFFmpeg(t, path)
	c, info, _, err := Load(path, Options{})
	if err != nil || info.Channels != 6 || len(c.Samples) != len(want)/6 {
		t.Fatalf("%+v, %d samples, want %d, %v", info, len(c.Samples), len(want)/6, err)
	}
	for i, v := range c.Samples {
		sum := 0.0
		for _, w := range want[6*i : 6*i+6] {
			sum += w
		}
		if math.Abs(v-sum/6) > 1e-5 {
			t.Fatalf("sample %d is %g, want %g", i, v, sum/6)
		}
	}
}

// A stream cut at the front, as from a broadcast: its samples count from the
// first one that is there.
func TestVorbisCutStart(t *testing.T) {
	programs.Need(t, "sox", "oggenc")
	dir := t.TempDir()
	wav, path := filepath.Join(dir, "in.wav"), filepath.Join(dir, "in.ogg")
	noisySox(t, wav, "-r 44100 -c 1 -b 16", 20)
	command(t, "oggenc -Q %s -o %s", wav, path)
	whole, _, _, err := Load(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	pages := bytes.Split(b, []byte("OggS"))[1:]
	var cut []byte
	for i, p := range pages {
		if i < 2 || i > 5 { // headers fill two pages
			cut = append(append(cut, "OggS"...), p...)
		}
	}
	path = writeTemp(t, "cut.ogg", cut)
	c, info, _, err := Load(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(info.Duration-float64(len(c.Samples))/44100) > 1e-9 || len(c.Samples) >= len(whole.Samples) {
		t.Errorf("%+v, %d samples", info, len(c.Samples))
	}
	if _, most := difference(c.Samples, whole.Samples[len(whole.Samples)-len(c.Samples):]); most > 0 {
		t.Errorf("differs from the end of the whole by %g", most)
	}
	checkSections(t, path, c, Options{})
}

// external is a format that goes through ffmpeg: the file, what ffmpeg is told to write
// it, what it is called, and by which RMS a section may differ from the whole, since some
// formats make up noise.
type external struct {
	name, args, format string
	tolerance          float64
}

func TestExternalSections(t *testing.T) {
	formats := []external{
		{"take.mp4", "-c:a alac", "MP4", 0},
		{"take.m4a", "-c:a aac -b:a 128k", "M4A (AAC)", 0.03},
		{"take.opus", "-c:a libopus -b:a 96k", "Ogg Opus", 1e-3},
	}
	if !thorough {
		formats = formats[:1]
	}
	checkExternal(t, formats)
}

// checkExternal checks formats that go through ffmpeg. A section must start where it says,
// to the sample, and but for the noise that some formats make up it must be the same.
func checkExternal(t *testing.T, formats []external) {
	programs.Need(t, "sox", "ffmpeg")
	dir := t.TempDir()
	wav := filepath.Join(dir, "in.wav")
	noisySox(t, wav, "-r 48000 -c 2 -b 16", 5)
	for _, f := range formats {
		path := filepath.Join(dir, f.name)
		command(t, "ffmpeg -v error -nostdin -i %s %s %s", wav, f.args, path)
		whole, info, warnings, err := Load(path, Options{})
		if err != nil || len(warnings) > 0 {
			t.Errorf("%s: warnings %q, error %v", f.name, warnings, err)
			continue
		}
		if info.Format != f.format || info.Rate != 48000 || info.Channels != 2 || math.Abs(info.Duration-5) > 0.2 {
			t.Errorf("%s: info %+v", f.name, info)
		}
		for _, from := range []float64{0.1, 1.2345, 3.3} {
			c, _, _, err := Load(path, Options{From: from, To: from + 0.5})
			if err != nil || len(c.Samples) != 24000 {
				t.Errorf("%s from %g s: %d samples, %v", f.name, from, len(c.Samples), err)
				continue
			}
			at := int(math.Round(from * 48000))
			rms, _ := difference(c.Samples, whole.Samples[at:at+24000])
			if rms > f.tolerance {
				t.Errorf("%s from %g s: differs from the whole by RMS %g", f.name, from, rms)
			}
			for _, lag := range []int{-1, 1} {
				if r, _ := difference(c.Samples, whole.Samples[at+lag:at+lag+24000]); r <= rms {
					t.Errorf("%s from %g s: fits better %d sample away", f.name, from, lag)
				}
			}
		}
		_, _, _, err = Load(path, Options{From: 30, To: 31})
		if err == nil || !strings.Contains(err.Error(), "the recording is only ") {
			t.Errorf("%s: a section outside gave %v", f.name, err)
		}
	}
}

func TestWithoutFFmpeg(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	m4a := append([]byte("\x00\x00\x00\x20ftypM4A \x00\x00\x00\x00"), make([]byte, 100)...)
	_, err := Open(writeTemp(t, "take.wav", m4a), Options{})
	const says = "take.wav: it is M4A (AAC), which is not read directly"
	e, ok := err.(*Error)
	if !ok || !strings.HasSuffix(e.Error(), says) || !strings.Contains(e.Hint, "ffmpeg") {
		t.Errorf("error %#v", err)
	}
	_, err = Open(writeTemp(t, "take.wav", make([]byte, 100)), Options{})
	if err == nil || !strings.Contains(err.Error(), "not a recording of a known format") {
		t.Errorf("error %v", err)
	}
}

// Resampling against sox's best quality. The two filters differ where they
// roll off, so the tone stays below.
func TestResamplingAgainstSox(t *testing.T) {
	programs.Need(t, "sox")
	dir := t.TempDir()
	for _, rate := range []int{44100, 48000, 96000, 192000, 32000, 11025, 8000} {
		in := filepath.Join(dir, fmt.Sprintf("%d.wav", rate))
		top := 0.8 * min(11025, float64(rate)/2)
		command(t, "sox -R -n -r %d -c 1 -b 32 -e float %s synth 2 sine 100-%g gain -3", rate, in, top)
		want := float64s(command(t, "sox %s -t raw -e float -b 64 - rate -v 22050", in))
		c, _, _, err := Load(in, Options{Rate: 22050})
		if err != nil {
			t.Fatal(err)
		}
		if d := len(c.Samples) - len(want); d < -1 || d > 1 {
			t.Errorf("%d Hz: %d samples, sox gives %d", rate, len(c.Samples), len(want))
			continue
		}
		n := min(len(c.Samples), len(want)) - 1000
		// the sweep starts and stops abruptly: leave the filters' ringing out
		rms, most := difference(c.Samples[1000:n], want[1000:n])
		t.Logf("%d Hz: RMS %.1f dB, at most %.1f dB", rate, 20*math.Log10(rms), 20*math.Log10(most))
		if rms > 1e-4 {
			t.Errorf("%d Hz: differs from sox by RMS %g", rate, rms)
		}
	}
}
