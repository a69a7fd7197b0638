package clips

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"

	"blowdraw/decode/resample"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"
)

// What plays in a part of a song, besides the band.
const (
	Harp   = "harp"
	Voice  = "voice"  // sung
	Speech = "speech" // spoken
	Sax    = "saxophone"
	Guitar = "guitar"
	Organ  = "organ"
	Horn   = "horn" // trumpet, trombone, clarinet, flute
	Fiddle = "fiddle"
	Band   = "band" // nothing else
)

// leads are the General MIDI programs of those who play a melody.
var leads = map[string][]int{Sax: saxes, Guitar: leadGuits, Organ: organs, Horn: horns, Fiddle: fiddles}

// Song is a harp player with a band, or a band without one, and its truth: what
// of a Clip does not hold samples (Samples are nil), and the parts.
type Song struct {
	Clip
	Left, Right []float64 // Right is nil if the song is mono
	Parts       []truth.Part
	// HarpDB is the harp's RMS while it sounds against the rhythm section's (of a lesson,
	// as if there were one), in the mix.
	HarpDB float64
}

// SongKinds are the kinds of songs: a solo between sung verses and other solos;
// a singer whom the harp answers; a teacher who talks, sings and plays, without a
// band; no harp at all; the harp hard to one side and 6 dB below the rest; a solo
// on a worn record that runs fast or slow; no harp but many others, who play in
// rooms and through amplifiers as harps do; in stereo, each at a place of its own;
// what the panned songs play once more, in the middle and the harp 6 dB above the rest.
func SongKinds() []string {
	return []string{"solo", "answer", lesson, "none", panned, "worn", others, stereo, centred}
}

const (
	lesson = "lesson"
	others = "others"
	stereo = "stereo"

	panned  = "panned"
	centred = "centred"
)

// Songs makes n songs of a kind with a sound bank's band; the harp is that of the
// sound bank reeds in every other song, else of package render. The same seed
// gives the same songs. It needs FluidSynth.
func Songs(ctx context.Context, kind string, n int, seed int64, soundbank, reeds string) ([]Song, error) {
	if !slices.Contains(SongKinds(), kind) {
		return nil, fmt.Errorf("no kind of song %q: there are %v", kind, SongKinds())
	}
	if _, err := os.Stat(soundbank); err != nil {
		return nil, fmt.Errorf("looking for the sound bank: %w (%w)", err, ErrMissing)
	}
	b, err := openBank(reeds)
	if err != nil {
		return nil, err
	}
	var out []Song
	for i := range n {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s, err := makeSong(b, kind, i, seed, soundbank)
		if err != nil {
			return nil, fmt.Errorf("making %s song %d: %w", kind, i+1, err)
		}
		out = append(out, s)
	}
	return out, nil
}

// order draws the parts of a song.
func order(rng *rand.Rand, kind string) []truth.Part {
	var parts []truth.Part
	t := 0.0
	add := func(kind string, seconds float64) {
		parts = append(parts, truth.Part{Kind: kind, Start: t, End: t + seconds})
		t += seconds
	}
	sung := func() string {
		if kind == lesson {
			return []string{Voice, Speech, Speech}[rng.IntN(3)]
		}
		return []string{Voice, Voice, Voice, Speech}[rng.IntN(4)]
	}
	other := func() string { return []string{Sax, Guitar, Band}[rng.IntN(3)] }
	switch kind {
	case panned, centred, stereo:
		add(Band, 2)
		add(Harp, 18)
		return parts
	case "none":
		for t < 58 {
			add([]string{Voice, Sax, Guitar, Voice, Speech, Band}[rng.IntN(6)], 7+8*rng.Float64())
		}
		return parts
	case others:
		for t < 58 {
			add([]string{Sax, Sax, Guitar, Organ, Horn, Fiddle, Voice, Speech, Band}[rng.IntN(9)], 7+8*rng.Float64())
		}
		return parts
	case lesson:
		for t < 55 {
			add(sung(), 3+6*rng.Float64())
			add(Harp, 4+6*rng.Float64())
		}
		return parts
	case "answer":
		for t < 55 {
			add(Voice, 3+3*rng.Float64())
			add(Harp, 3+3*rng.Float64())
		}
		return parts
	}
	add(Band, 4)
	for t < 45 {
		add(sung(), 7+6*rng.Float64())
		add(Harp, 8+10*rng.Float64())
		add(other(), 5+5*rng.Float64())
	}
	return parts
}

func makeSong(b *bank, kind string, i int, seed int64, soundbank string) (Song, error) {
	draws := kind
	if kind == centred {
		draws = panned
	}
	rng := generator("song "+draws, seed, i)
	s := Song{Clip: Clip{Name: fmt.Sprintf("%s-%d", kind, i+1), Category: kind}, Parts: order(rng, kind)}
	s.Source = []string{"bank", "render"}[i%2]
	h, hab := usual(rng)
	s.Harp = h
	temper := pick(rng, harp.Temperaments())
	s.Temperament = temper.Name
	s.HarpDB = -3 + 12*rng.Float64()
	switch kind {
	case panned:
		s.HarpDB = -6
	case centred:
		s.HarpDB = 6
	case stereo:
		_, s.HarpDB = place(i)
	}
	st, err := s.stems(rng, b, hab, render.Tuning{Temperament: temper},
		&bank{program: b.program, file: soundbank})
	if err != nil {
		return Song{}, err
	}
	s.mix(rng, st, i)
	if kind == "worn" {
		err = s.wear(rng)
	}
	return s, err
}

// stems are the tracks of a song, all of one length.
type stems struct {
	harp, solo, low, chords []float64
	sounding                []bool // where the harp plays
}

func (s *Song) seconds() float64 { return s.Parts[len(s.Parts)-1].End }

// stems plays all parts.
func (s *Song) stems(rng *rand.Rand, reeds *bank, hab habits, tuning render.Tuning, players *bank) (stems,
	error) {
	n := int(s.seconds() * Rate)
	st := stems{solo: make([]float64, n), sounding: make([]bool, n)}
	c := newCombo(rng, hab.key)
	low, chords := c.rhythm(rng, s.seconds())
	var err error
	if st.low, err = players.track(low, n); err != nil {
		return st, err
	}
	if st.chords, err = players.track(chords, n); err != nil {
		return st, err
	}
	who := newSinger(rng)
	for _, p := range s.Parts {
		length := p.End - p.Start
		var x []float64
		switch p.Kind {
		case Harp:
			s.improvise(rng, hab, p)
			continue
		case Voice, Speech:
			x = who.speak(rng, who.verse(rng, length, hab.key, hab.scale, p.Kind == Speech), length)
		case Band:
			continue
		default:
			program := pick(rng, saxes)
			if p.Kind != Sax {
				program = pick(rng, leads[p.Kind])
			}
			if x, err = players.track(c.lead(rng, program, length), int(length*Rate)); err != nil {
				return st, err
			}
		}
		if s.Category == others && effect.RMS(x) > 0 {
			x = placed(rng, x, rng.IntN(3) == 0)
		}
		mixIn(st.solo[int(p.Start*Rate):], x, math.Pow(10, (-2+8*rng.Float64())/20)/max(effect.RMS(x), 1e-6))
	}
	st.harp, err = s.soundHarp(rng, reeds, tuning, n)
	for _, e := range s.Events {
		for i := int(e.Start * Rate); i < min(int(e.End*Rate), n); i++ {
			st.sounding[i] = true
		}
	}
	return st, err
}

// improvise adds what the harp plays in a part.
func (s *Song) improvise(rng *rand.Rand, hab habits, p truth.Part) {
	gestures, phrases := play(rng, s.Harp, hab, p.End-p.Start)
	for _, g := range gestures {
		g.Start, g.End = g.Start+p.Start, g.End+p.Start
		s.Gestures = append(s.Gestures, g)
	}
	for _, f := range phrases {
		s.Phrases = append(s.Phrases, tab.Phrase{Start: f.Start + p.Start, End: f.End + p.Start})
	}
}

// soundHarp plays the gestures, n samples long, through an amplifier or in a room.
func (s *Song) soundHarp(rng *rand.Rand, b *bank, tuning render.Tuning, n int) ([]float64, error) {
	var notes []render.Note
	notes, s.Events = render.Perform(s.Harp, tuning, s.Gestures)
	out := make([]float64, n)
	if len(notes) == 0 {
		return out, nil
	}
	var x []float64
	if s.Source == "bank" {
		var err error
		if x, err = b.play(notes); err != nil {
			return nil, err
		}
	} else {
		x = render.Render(notes, render.Set{Seed: rng.Uint64()}, Rate)
	}
	copy(out, x)
	return placed(rng, out, rng.IntN(2) == 0), nil
}

// placed is sound in a room, also through an amplifier if amp is true.
func placed(rng *rand.Rand, x []float64, amp bool) []float64 {
	if amp {
		x = effect.Overdrive(x, Rate, effect.Amp{Drive: 2 + 10*rng.Float64(), Bias: 0.3 * rng.Float64(), Low: 100,
			High: 4000 + 2000*rng.Float64()})
	}
	return effect.Reverb(x, Rate, effect.Room{T60: 0.3 + rng.Float64(), Direct: 3 + 8*rng.Float64(),
		PreDelay: 0.02, Seed: rng.Uint64()})
}

// track plays messages, n samples long.
func (b *bank) track(m []message, n int) ([]float64, error) {
	x, err := b.synthesize(smf(m))
	if err != nil {
		return nil, err
	}
	out := make([]float64, n)
	copy(out, x)
	return out, nil
}

func mixIn(dst, x []float64, gain float64) {
	for i := range min(len(dst), len(x)) {
		dst[i] += gain * x[i]
	}
}

// mix balances the tracks: chords within 4 dB of bass and drums, other soloists
// as stated in stems against the rhythm section, the harp at HarpDB.
func (s *Song) mix(rng *rand.Rand, st stems, i int) {
	chordGain := math.Pow(10, 4*(2*rng.Float64()-1)/20) * effect.RMS(st.low) / max(effect.RMS(st.chords), 1e-6)
	band := slices.Clone(st.low)
	mixIn(band, st.chords, chordGain)
	level := effect.RMS(band)
	var played []float64
	for i, on := range st.sounding {
		if on {
			played = append(played, st.harp[i])
		}
	}
	harpGain := 0.0
	if len(played) > 0 {
		harpGain = math.Pow(10, s.HarpDB/20) * level / effect.RMS(played)
	}
	mono := slices.Clone(band)
	if s.Category == lesson {
		clear(mono)
	}
	mixIn(mono, st.solo, level)
	mixIn(mono, st.harp, harpGain)
	s.Left = mono
	switch s.Category {
	case panned:
		s.pan(rng, st, band, harpGain)
	case stereo:
		s.spread(rng, st, chordGain, harpGain, i)
	}
	peak := 0.0
	for _, x := range [][]float64{s.Left, s.Right} {
		for _, v := range x {
			peak = max(peak, math.Abs(v))
		}
	}
	for _, x := range [][]float64{s.Left, s.Right} {
		for i := range x {
			x[i] = 0.8*x[i]/peak + 1e-4*rng.NormFloat64()
		}
	}
}

// pan puts the harp on one side; the band is in the middle, or on the other side
// with a bleed of -12 dB. In the mean of both channels the levels stay as they were.
func (s *Song) pan(rng *rand.Rand, st stems, band []float64, harpGain float64) {
	near, far := make([]float64, len(band)), slices.Clone(band)
	bleed := 1.0
	if rng.IntN(2) == 0 {
		bleed = math.Pow(10, -12.0/20)
	}
	share := 2 / (1 + bleed)
	for i, v := range band {
		near[i] = share*bleed*v + 2*harpGain*st.harp[i]
		far[i] = share * v
	}
	s.Left, s.Right = near, far
	if rng.IntN(2) == 0 {
		s.Left, s.Right = far, near
	}
}

// wear plays the song from a worn record at a wrong speed, up to a semitone off,
// and moves the truth along.
func (s *Song) wear(rng *rand.Rand) error {
	s.Left = effect.Record(s.Left, Rate, effect.Disc{Low: 90 + 120*rng.Float64(),
		High:  3200 + 2300*rng.Float64(),
		Noise: -34 + 10*rng.Float64(), Clicks: 5 * rng.Float64(), Wow: 6 * rng.Float64(), Seed: rng.Uint64()})
	cents := 95 * (2*rng.Float64() - 1)
	rate := int(math.Round(Rate * math.Exp2(cents/1200)))
	speed := float64(rate) / Rate
	s.Cents = 1200 * math.Log2(speed)
	var err error
	if s.Left, err = resample.Convert(s.Left, rate, Rate); err != nil {
		return fmt.Errorf("changing the speed: %w", err)
	}
	for i := range s.Events {
		e := &s.Events[i]
		e.Start, e.End = e.Start/speed, e.End/speed
		for k := range e.Pitches {
			e.Pitches[k] += s.Cents / 100
		}
	}
	for i := range s.Phrases {
		s.Phrases[i].Start, s.Phrases[i].End = s.Phrases[i].Start/speed, s.Phrases[i].End/speed
	}
	for i := range s.Parts {
		s.Parts[i].Start, s.Parts[i].End = s.Parts[i].Start/speed, s.Parts[i].End/speed
	}
	return nil
}
