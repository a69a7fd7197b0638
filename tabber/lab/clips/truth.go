package clips

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"blowdraw/decode"
)

// DefaultSeed is the seed of the clips that Write writes.
const DefaultSeed = 1

// truthFile is the JSON form of a clip's truth. Times are in seconds, pitches
// fractional MIDI numbers, levels dB, offset cents.
type truthFile struct {
	Harp        string       `json:"harp"`
	Layout      string       `json:"layout"`
	Position    int          `json:"position,omitempty"`
	Temperament string       `json:"temper"`
	Offset      float64      `json:"offset"`
	BPM         *float64     `json:"bpm"` // null: the phrases keep no tempo
	Seconds     float64      `json:"seconds"`
	Tier        string       `json:"tier"`
	Source      string       `json:"source"`
	Audio       string       `json:"audio"`
	Phrases     [][2]float64 `json:"phrases"`
	Events      []truthEvent `json:"events"`
	HarpDB      *float64     `json:"harp_db,omitempty"` // of a song
	Parts       []Part       `json:"parts,omitempty"`   // of a song
}

type truthEvent struct {
	Start   float64   `json:"start"`
	End     float64   `json:"end"`
	Breath  string    `json:"breath"`
	Holes   []int     `json:"holes"`
	Bends   []int     `json:"bends"`
	MIDI    []float64 `json:"midi"`
	Levels  []float64 `json:"levels"`
	Late    []float64 `json:"late"`
	Texture string    `json:"texture"`
	Marks   []string  `json:"marks"`
	Scoop   float64   `json:"scoop"`   // cents
	Vib     float64   `json:"vib"`     // cents each way
	Vibrate float64   `json:"vibrate"` // Hz
}

func (c Clip) truth() truthFile {
	t := truthFile{
		Harp: c.Harp.Name, Layout: c.Harp.Layout.Name, Position: c.Position, Temperament: c.Temperament,
		Offset: c.Cents, Seconds: float64(len(c.Samples)) / Rate, Tier: c.Category, Source: c.Source, Audio: c.Name + ".wav",
	}
	for _, p := range c.Phrases {
		t.Phrases = append(t.Phrases, [2]float64{round4(p.Start), round4(p.End)})
	}
	for i, e := range c.Events {
		g := c.Gestures[i]
		v := truthEvent{
			Start: round4(e.Start), End: round4(e.End), Breath: e.Actions[0].Breath.String(),
			Texture: e.Texture, Marks: []string{},
			Levels: make([]float64, len(e.Actions)), Late: make([]float64, len(e.Actions)),
		}
		for k, a := range e.Actions {
			v.Holes = append(v.Holes, a.Hole)
			v.Bends = append(v.Bends, a.Bend)
			v.MIDI = append(v.MIDI, round4(e.Pitches[k]))
			if g.Levels != nil {
				v.Levels[k] = round4(g.Levels[k])
			}
			if g.Late != nil {
				v.Late[k] = round4(g.Late[k])
			}
		}
		for _, m := range e.Marks {
			v.Marks = append(v.Marks, m.Name)
		}
		v.Scoop, v.Vib, v.Vibrate = round4(g.Scoop), round4(g.VibratoCents), round4(g.VibratoHz)
		if g.Glide > 0 {
			v.Marks = append(v.Marks, "glide")
		}
		t.Events = append(t.Events, v)
	}
	return t
}

func round4(x float64) float64 { return math.Round(x*1e4) / 1e4 }

// Write writes every clip of the default seed into dir, which it makes if it is
// not there: NAME.wav and NAME.truth.json.
func Write(dir string) error { return WriteSeed(dir, DefaultSeed) }

// WriteSeed is Write with another seed.
func WriteSeed(dir string, seed int64) error { return write(dir, seed, categories()) }

// WritePositions writes the clips of [Positions].
func WritePositions(dir string, seed int64) error { return write(dir, seed, positions()) }

func write(dir string, seed int64, categories []category) error {
	b, err := openBank(BankPath)
	if err != nil {
		return err
	}
	for _, c := range categories {
		clips, err := c.clips(b, seed)
		if err != nil {
			return fmt.Errorf("making the clips %q: %w", c.name, err)
		}
		if err := writeAll(dir, clips); err != nil {
			return err
		}
	}
	return nil
}

// writeAll writes clips into dir, which it makes if it is not there.
func writeAll(dir string, clips []Clip) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("making the folder for the clips: %w", err)
	}
	for _, c := range clips {
		if err := c.write(dir); err != nil {
			return err
		}
	}
	return nil
}

func (c Clip) write(dir string) error {
	return writeClip(dir, c.truth(), func(w io.Writer) error { return decode.WriteWAV(w, c.Clip) })
}

// WriteSongs writes songs into dir, which it makes if it is not there: NAME.wav,
// of one channel or two, and NAME.truth.json.
func WriteSongs(dir string, songs []Song) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("making the folder for the songs: %w", err)
	}
	for _, s := range songs {
		t := s.truth()
		t.Seconds, t.Parts = s.seconds(), s.Parts
		if s.Category != lesson {
			t.HarpDB = &s.HarpDB
		}
		channels := [][]float64{s.Left}
		if s.Right != nil {
			channels = append(channels, s.Right)
		}
		if err := writeClip(dir, t, func(w io.Writer) error { return decode.WriteWAVChannels(w, Rate, channels) }); err != nil {
			return err
		}
	}
	return nil
}

// writeClip writes the sound and the truth beside it.
func writeClip(dir string, t truthFile, sound func(io.Writer) error) error {
	path := filepath.Join(dir, t.Audio)
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("writing clip %s: %w", path, err)
	}
	if err := errors.Join(sound(f), f.Close()); err != nil {
		return fmt.Errorf("writing clip %s: %w", path, err)
	}
	data, err := json.MarshalIndent(t, "", " ")
	if err != nil {
		return fmt.Errorf("writing the truth of clip %s: %w", path, err)
	}
	path = strings.TrimSuffix(path, ".wav") + ".truth.json"
	if err := os.WriteFile(path, append(data, '\n'), 0o644); err != nil {
		return fmt.Errorf("writing the truth of clip %s: %w", path, err)
	}
	return nil
}
