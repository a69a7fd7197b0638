package tabber

import (
	"bufio"
	"bytes"
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/beats"
	"blowdraw/tabber/playing"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/render"
)

// ears lists what there is to compare; an ear that can't be loaded is left out.
func ears(b *testing.B, run func(b *testing.B, t *Transcriber)) {
	for _, name := range []string{"learned", "classical"} {
		b.Run(name, func(b *testing.B) {
			t, err := NewTranscriber(harpOf(b, "A", "richter"), Options{Ear: name})
			if err != nil {
				b.Skip(err)
			}
			run(b, t)
		})
	}
}

// BenchmarkTranscribe transcribes 20 seconds of a solo; x-real-time says how many
// times faster than it plays.
func BenchmarkTranscribe(b *testing.B) {
	h := harpOf(b, "A", "richter")
	clip, _ := played(h, render.Tuning{Cents: 8}, 5, melody(b, h, append(lick, lick...), lengths))
	clip.Samples = clip.Samples[:20*pitch.Rate]
	ears(b, func(b *testing.B, t *Transcriber) {
		for b.Loop() {
			if r := t.Clip(clip); len(r.Events) == 0 {
				b.Fatal("no events")
			}
		}
		b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
	})
}

// BenchmarkStages tells what each stage of a transcription costs for the same 20
// seconds, beside reading them.
func BenchmarkStages(b *testing.B) {
	h := harpOf(b, "A", "richter")
	clip, _ := played(h, render.Tuning{Cents: 8}, 5, melody(b, h, append(lick, lick...), lengths))
	clip.Samples = clip.Samples[:20*pitch.Rate]
	t, err := NewTranscriber(h, Options{})
	if err != nil {
		b.Fatal(err)
	}
	const cents = 8
	listen := t.tuner.Ear.Listener(h, clip)
	x := reading.Sound{Clip: clip, Frames: listen(cents)}
	events := playing.MergeShakes(h, x.Frames, t.reader.Events(t.reader.Read(x, reading.Nothing())))
	heard := new(beats.Track)
	heard.Add(clip)
	heard.Listen(clip, cents)
	for _, s := range []struct {
		name string
		run  func()
	}{
		{"ear", func() { listen(cents) }},
		{"decision", func() { t.reader.Events(t.reader.Read(x, reading.Nothing())) }},
		{"onset-strength", func() { new(beats.Track).Add(clip) }},
		{"chords", func() { new(beats.Track).Listen(clip, cents) }},
		{"voice-or-harp", func() { new(presence.Track).Add(h, x.Frames, clip, plain(events)) }},
		{"marks", func() { playing.Measure(h, x, cents, events, 0, 20) }},
		{"tempo-and-bars", func() {
			heard.Find(beats.Heard{Harp: h, Events: plain(events), To: 20}, beats.Asked{})
		}},
	} {
		b.Run(s.name, func(b *testing.B) {
			for b.Loop() {
				s.run()
			}
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N)/20, "ms/second-of-sound")
		})
	}
}

// BenchmarkSection transcribes 60 seconds from the middle of a recording of an
// hour, and the same 60 seconds as a recording of their own: time and memory
// should differ little. peak-MB is the most heap in use, sampled every 5 ms.
func BenchmarkSection(b *testing.B) {
	const minute = 60
	h := harpOf(b, "A", "richter")
	clip, _ := long(b, h)
	clip.Samples = clip.Samples[:minute*pitch.Rate]
	dir := b.TempDir()
	hour, alone := filepath.Join(dir, "hour.wav"), filepath.Join(dir, "alone.wav")
	writeRepeated(b, hour, clip, 60)
	writeRepeated(b, alone, clip, 1)
	recordings := []struct {
		name, path string
		from       float64
	}{{"alone-wav", alone, 0}, {"hour-wav", hour, 30 * minute}}
	if _, err := exec.LookPath("flac"); err == nil {
		for _, path := range []string{hour, alone} {
			if out, err := exec.Command("flac", "--silent", "--fast", path).CombinedOutput(); err != nil {
				b.Fatalf("flac %s: %v\n%s", path, err, out)
			}
		}
		recordings = append(recordings, recordings...)
		recordings[2].name, recordings[2].path = "alone-flac", filepath.Join(dir, "alone.flac")
		recordings[3].name, recordings[3].path = "hour-flac", filepath.Join(dir, "hour.flac")
	} else {
		b.Log("flac is not installed: its sections are left out")
	}
	ears(b, func(b *testing.B, t *Transcriber) {
		for _, r := range recordings {
			b.Run(r.name, func(b *testing.B) {
				peak := watchHeap()
				for b.Loop() {
					transcribeSection(b, t, r.path, r.from, r.from+minute)
				}
				b.ReportMetric(minute*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
				b.ReportMetric(peak(), "peak-MB")
			})
		}
	})
}

func transcribeSection(b *testing.B, t *Transcriber, path string, from, to float64) {
	b.Helper()
	s, err := decode.Open(path, decode.Options{Rate: pitch.Rate, From: from, To: to})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	r, err := t.Stream(context.Background(), s, from)
	if err != nil || len(r.Events) == 0 || math.Abs(r.To-to) > 1e-3 {
		b.Fatalf("%d events to %g s: %v", len(r.Events), r.To, err)
	}
}

// writeRepeated writes the clip as a WAV file, many times over.
func writeRepeated(b *testing.B, path string, clip decode.Clip, times int) {
	b.Helper()
	var one bytes.Buffer
	if err := decode.WriteWAV(&one, clip); err != nil {
		b.Fatal(err)
	}
	const header = 44
	pcm := one.Bytes()[header:]
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriter(f)
	w.Write(wavHeader(one.Bytes()[:header], len(pcm)*times))
	for range times {
		w.Write(pcm)
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
}

// wavHeader is the header for so many bytes of sound.
func wavHeader(header []byte, size int) []byte {
	h := bytes.Clone(header)
	for i, n := range map[int]int{4: size + 36, 40: size} {
		h[i], h[i+1], h[i+2], h[i+3] = byte(n), byte(n>>8), byte(n>>16), byte(n>>24)
	}
	return h
}

// watchHeap begins to watch the heap in use; the function it returns ends that
// and returns the peak in millions of bytes.
func watchHeap() (peak func() float64) {
	runtime.GC()
	var top uint64
	done := make(chan bool)
	var wg sync.WaitGroup
	wg.Go(func() {
		var m runtime.MemStats
		for {
			runtime.ReadMemStats(&m)
			top = max(top, m.HeapInuse)
			select {
			case <-done:
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	})
	return func() float64 {
		close(done)
		wg.Wait()
		return float64(top) / 1e6
	}
}
