//go:build long

package decode

import "testing"

// The encodings and formats that the quick tests leave out.

func TestMoreMP3AgainstReference(t *testing.T) {
	checkMP3(t, []encoding{
		{"-r 44100 -c 2 -b 16", "-b 320 -m s"},
		{"-r 44100 -c 2 -b 16", "-V 0"},
		{"-r 44100 -c 2 -b 16", "--abr 110 -p"},
		{"-r 44100 -c 2 -b 16", "-b 96 -t"},
		{"-r 44100 -c 1 -b 16", "-b 64"},
		{"-r 32000 -c 2 -b 16", "-b 112"},
		{"-r 22050 -c 1 -b 16", "-b 64"},
		{"-r 22050 -c 1 -b 16", "-b 32"},
		{"-r 22050 -c 2 -b 16", "-b 80"},
		{"-r 24000 -c 2 -b 16", "-b 56"},
		{"-r 16000 -c 1 -b 16", "-b 24"},
	})
}

func TestMoreVorbisAgainstReference(t *testing.T) {
	checkVorbis(t, []encoding{
		{"-r 44100 -c 2 -b 16", "-q -1"},
		{"-r 48000 -c 1 -b 16", "-q 5"},
		{"-r 96000 -c 2 -b 24", "-q 4"},
		{"-r 8000 -c 2 -b 16", "-q 2"},
		{"-r 44100 -c 2 -b 16", "--managed -b 96"},
	})
}

func TestMoreExternalSections(t *testing.T) {
	checkExternal(t, []external{
		{"take.aiff", "", "AIFF", 0},
		{"take.caf", "-c:a pcm_s16le", "Core Audio (CAF)", 0},
		{"take.au", "-c:a pcm_s16be", "Sun audio (AU)", 0},
		{"take.wv", "-c:a wavpack", "WavPack", 0},
		{"take.aac", "-c:a aac", "AAC", 0.03},
		{"take.oga", "-c:a flac", "Ogg FLAC", 0},
		{"take.wma", "-c:a wmav2", "Windows Media (WMA)", 0.03},
		{"take.mka", "-c:a pcm_s16le", "Matroska or WebM", 0},
		{"mulaw.wav", "-c:a pcm_mulaw", "WAV with compressed samples (format tag 0x0007)", 0},
	})
}
