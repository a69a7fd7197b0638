// Package bars makes takes of bands that play the blues with a player on top, and fits to
// them what package form decides bars by.
package bars

import (
	"math"
	"math/rand/v2"

	"blowdraw/decode/programs/fluidsynth"
	"blowdraw/onset/form"
)

// gig is a band that plays a groove with variations, and a player on top; times are
// in beats of the band from its first bar on until they are rendered.
type gig struct {
	groove     string
	bpm, swing float64 // swing: where the second eighth lies in a beat
	key        int     // pitch class
	meter      int
	bars       int
	band, harp *fluidsynth.Score
	notes      []form.Note // of the player, in beats until rendered
}

// inFour are the grooves in four that bands play (common practice, no source).
var inFour = []string{
	"shuffle", "double shuffle", "straight", "slow", "rhumba", "two-beat", "boogie", "no drums", "funk",
}

// tempi of the grooves in beats a minute, slowest and fastest (common practice, no source).
var tempi = map[string][2]float64{
	"shuffle": {78, 150}, "double shuffle": {84, 140}, "straight": {80, 150}, "slow": {52, 76},
	"waltz": {80, 160}, "rhumba": {90, 140}, "two-beat": {96, 180}, "boogie": {90, 160},
	"no drums": {66, 140}, "funk": {76, 116},
}

// basses and chordal are the General MIDI programs, counted from 0, of the band; those that
// are there twice are played more often.
var (
	basses  = []int{32, 32, 33, 33, 34, 35}
	chordal = []int{0, 1, 4, 16, 17, 24, 25, 26, 26, 27, 29}
)

// gigForms are forms as roots over the tonic, bar by bar (common practice, no source).
var gigForms = [][]int{
	{0, 0, 0, 0, 5, 5, 0, 0, 7, 5, 0, 7},
	{0, 5, 0, 0, 5, 5, 0, 0, 7, 5, 0, 0},
	{0, 7, 5, 5, 0, 7, 0, 7},
	{0, 0, 0, 0, 0, 0, 0, 0, 5, 5, 0, 0, 7, 5, 0, 7},
	{0, 0, 0, 0, 5, 5, 0, 9, 2, 7, 0, 7},
	{0, 0, 0, 0},
}

// player strikes notes with a musician's looseness.
type player struct {
	*rand.Rand
	*fluidsynth.Score
	bpm, loose float64 // loose: standard deviation in seconds
	late       float64 // s
}

func (p player) hit(channel, key int, at, length float64, velocity int) {
	at += (p.late + p.loose*p.NormFloat64()) * p.bpm / 60
	v := velocity + int(10*p.NormFloat64())
	if at >= 0 {
		p.Note(channel, key, at, max(length, 0.05), min(max(v, 20), 127))
	}
}

func (p player) chance(x float64) bool { return p.Float64() < x }

func choose[T any](rng *rand.Rand, from ...T) T { return from[rng.IntN(len(from))] }

// newGig makes up a gig of some bars.
func newGig(rng *rand.Rand, groove string, bars int) *gig {
	g := &gig{groove: groove, key: rng.IntN(12), meter: 4, bars: bars}
	g.band, g.harp = &fluidsynth.Score{}, &fluidsynth.Score{}
	slowest, fastest := tempi[groove][0], tempi[groove][1]
	g.bpm = slowest * math.Pow(fastest/slowest, rng.Float64())
	g.swing = 0.5
	if groove == "waltz" {
		g.meter = 3
		g.bpm = 80 * math.Pow(2, rng.Float64())
		g.swing = choose(rng, 0.5, 2./3)
	}
	switch groove {
	case "shuffle", "double shuffle":
		g.swing = 0.6 + 0.08*rng.Float64()
	case "slow":
		g.swing = 2. / 3
	case "boogie", "two-beat", "no drums":
		g.swing = choose(rng, 0.5, 0.6, 0.65, 2./3)
	}
	for channel, program := range []int{choose(rng, basses...), choose(rng, chordal...)} {
		g.band.Events = append(g.band.Events, fluidsynth.Program(channel, program))
	}
	p := player{rng, g.band, g.bpm, 0.004 + 0.008*rng.Float64(), 0}
	form := choose(rng, gigForms...)
	first := rng.IntN(len(form))
	hands := newHands(rng, g)
	for bar := range bars {
		root, next := form[(first+bar)%len(form)], form[(first+bar+1)%len(form)]
		hands.bar(p, g, bar, (g.key+root)%12, (g.key+next)%12)
	}
	g.improvise(rng)
	return g
}

// hands are the habits of a band through one gig.
type hands struct {
	bass, comp, cymbal    string
	kick                  string
	ghost, fill, pickup   float64
	cymbalKey, snareKey   int
	voicing, bassFloor    int
	minor                 bool
	loudDrums, loudChords int
}

func newHands(rng *rand.Rand, g *gig) hands {
	if g.groove == "waltz" {
		h := newHands(rng, &gig{groove: choose(rng, "shuffle", "straight", "slow")})
		h.comp = choose(rng, "backbeat", "backbeat", "held", "sparse")
		if rng.IntN(4) == 0 {
			h.kick = "none"
		}
		return h
	}
	h := hands{
		ghost: 0.25 * rng.Float64() * rng.Float64() * 2, fill: 0.5 * rng.Float64(), pickup: 0.3 * rng.Float64(),
		cymbalKey: choose(rng, 42, 42, 51, 51, 53, 59), snareKey: choose(rng, 38, 38, 40, 37),
		voicing: 48 + rng.IntN(12), bassFloor: 28 + rng.IntN(8), minor: rng.IntN(6) == 0,
		loudDrums: 90 + rng.IntN(20), loudChords: 60 + rng.IntN(35),
	}
	w := ways[g.groove]
	h.bass, h.comp = habit(rng, w.bass), habit(rng, w.comp)
	h.cymbal, h.kick = habit(rng, w.cymbal), habit(rng, w.kick)
	return h
}

// ways are how a groove may be played; those that are there twice are played more often
// (common practice, no source).
var ways = map[string]struct{ bass, comp, cymbal, kick []string }{
	"shuffle": {
		[]string{"walk", "walk", "walk", "eighths", "two"},
		[]string{"backbeat", "upbeat", "held", "charleston", "boogie", "sparse"},
		[]string{"eighths", "eighths", "ride", "quarters"},
		[]string{"two", "two", "four", "busy"},
	},
	"double shuffle": {
		[]string{"walk", "eighths"}, []string{"backbeat", "upbeat", "boogie", "held"},
		[]string{"eighths", "quarters"}, []string{"four", "two"},
	},
	"straight": {
		[]string{"eighths", "riff", "walk", "roots"},
		[]string{"backbeat", "held", "charleston", "boogie", "sparse"},
		[]string{"eighths"}, []string{"two", "busy", "rock"},
	},
	"slow": {
		[]string{"slow", "walk", "two"}, []string{"triplets", "held", "backbeat", "sparse"},
		[]string{"triplets", "triplets", "ride"}, []string{"two", "busy"},
	},
	"rhumba": {
		[]string{"rhumba"}, []string{"rhumba", "held", "upbeat"},
		[]string{"eighths", "quarters", "none"}, []string{"rhumba", "two"},
	},
	"two-beat": {
		[]string{"two", "two", "walk"}, []string{"backbeat", "held", "sparse"},
		[]string{"eighths", "ride", "none"}, []string{"two"},
	},
	"boogie": {
		[]string{"boogie"}, []string{"boogie", "backbeat", "held"},
		[]string{"eighths", "quarters"}, []string{"two", "four"},
	},
	"no drums": {
		[]string{"walk", "two", "boogie", "roots"}, []string{"backbeat", "held", "boogie", "charleston"},
		[]string{"none"}, []string{"none"},
	},
	"funk": {
		[]string{"riff", "roots"}, []string{"sixteenths", "held", "sparse"},
		[]string{"eighths", "sixteenths"}, []string{"rock", "busy"},
	},
}

// habit is one of the ways; a lone one takes nothing from rng.
func habit(rng *rand.Rand, of []string) string {
	if len(of) == 1 {
		return of[0]
	}
	return choose(rng, of...)
}

// bar plays one bar.
func (h hands) bar(p player, g *gig, bar, root, next int) {
	at := float64(bar * g.meter)
	if g.meter == 3 {
		h.waltz(p, g, at, root, next)
		return
	}
	h.playBass(p, g, at, root, next)
	h.playChords(p, g, at, root)
	if h.kick != "none" {
		h.playDrums(p, g, bar, at)
	}
}

func (h hands) low(class int) int {
	return h.bassFloor + ((class-h.bassFloor)%12+12)%12
}

// riffs of the bass: beats and semitones over the root.
var riffs = [][][2]float64{
	{{0, 0}, {1.5, 0}, {2, 7}, {3.5, 10}},
	{{0, 0}, {0.75, 0}, {1.5, 10}, {2, 12}, {3, 7}},
	{{0, 0}, {1, 0}, {1.5, 3}, {2.5, 5}, {3, 7}},
}

func (h hands) playBass(p player, g *gig, at float64, root, next int) {
	third := 4
	if h.minor {
		third = 3
	}
	s, v := g.swing, 95
	walk := choose(p.Rand, []int{0, third, 7, 9}, []int{0, 7, 10, 7}, []int{0, third, 5, 6},
		[]int{0, 2, third, 7}, []int{0, 0, 7, 7}, []int{12, 10, 7, third})
	play := func(over int, when, length float64) { p.hit(0, h.low(root)+over, at+when, length, v) }
	switch h.bass {
	case "walk":
		for b := range 4 {
			play(walk[b], float64(b), 0.9)
			if p.chance(h.pickup * 0.6) {
				play(walk[b], float64(b)+s, 0.3)
			}
		}
		if p.chance(0.4) && next != root {
			p.hit(0, h.low(next)+choose(p.Rand, -1, 1), at+3+s, 0.3, v)
		}
	case "eighths":
		for b := range 4 {
			play(walk[b], float64(b), 0.55)
			play(walk[b], float64(b)+s, 0.35)
		}
	case "boogie":
		figure := choose(p.Rand, []int{0, 0, 4, 4, 7, 7, 9, 9}, []int{0, 12, 0, 12, 0, 12, 0, 12},
			[]int{0, 0, 7, 7, 9, 9, 7, 7})
		for b := range 8 {
			play(figure[b], float64(b/2)+s*float64(b%2), 0.4)
		}
	case "two":
		play(0, 0, 1.8)
		play(7, 2, 1.8)
		if p.chance(h.pickup) {
			play(choose(p.Rand, 4, 9, 5), 3+choose(p.Rand, 0, s), 0.4)
		}
	case "roots":
		play(0, 0, choose(p.Rand, 1.8, 3.5))
		if p.chance(0.5) {
			play(0, 2, 1.5)
		}
	case "riff":
		for _, r := range choose(p.Rand, riffs...) {
			play(int(r[1]), r[0], 0.45)
		}
	case "slow":
		for b := range 4 {
			play(walk[b], float64(b), 0.6)
			if p.chance(0.5) {
				play(walk[b], float64(b)+2./3, 0.3)
			}
		}
	case "rhumba":
		for i, w := range []float64{0, 1.5, 3} {
			play([]int{0, third, 7}[i], w, 0.9)
		}
		if p.chance(0.3) {
			play(7, 2.5, 0.4)
		}
	}
}

// rhumbas are where chords are struck in a bar, in beats.
var rhumbas = [][]float64{{0.5, 1, 2.5, 3}, {0, 1.5, 3}, {1, 2.5, 3.5}}

func (h hands) playChords(p player, g *gig, at float64, root int) {
	third := 4
	if h.minor {
		third = 3
	}
	strum := func(when, length float64) {
		for _, over := range []int{0, third, 7, 10}[p.IntN(2):] {
			k := h.voicing + ((root+over-h.voicing)%12+12)%12
			p.hit(1, k, at+when, length, h.loudChords)
		}
	}
	s := g.swing
	switch h.comp {
	case "backbeat":
		strum(1, 0.35)
		strum(3, 0.35)
	case "upbeat":
		for b := range 4 {
			if p.chance(0.8) {
				strum(float64(b)+s, 0.3)
			}
		}
	case "held":
		strum(0, 3.8)
	case "charleston":
		strum(0, 0.6)
		strum(1+s, 0.6)
	case "boogie":
		for b := range 8 {
			over := []int{7, 9}[b/2%2]
			for _, o := range []int{0, over} {
				key := h.voicing + ((root-h.voicing)%12+12)%12 + o
				p.hit(1, key, at+float64(b/2)+s*float64(b%2), 0.4, h.loudChords)
			}
		}
	case "triplets":
		for b := range 12 {
			strum(float64(b)/3, 0.28)
		}
	case "rhumba":
		for _, w := range choose(p.Rand, rhumbas...) {
			strum(w, 0.35)
		}
	case "sixteenths":
		for b := range 16 {
			if p.chance(0.35) {
				strum(float64(b)/4, 0.15)
			}
		}
	case "sparse":
		for b := range 8 {
			if p.chance(0.2) {
				strum(float64(b/2)+s*float64(b%2), choose(p.Rand, 0.3, 1))
			}
		}
	}
}

func (h hands) playDrums(p player, g *gig, bar int, at float64) {
	d := drummer{hands: h, player: p, groove: g.groove, swing: g.swing, at: at}
	filling := (bar+1)%4 == 0 && p.chance(h.fill)
	if bar%4 == 0 && p.chance(h.fill) {
		d.drum(49, 0, 5)
	}
	for b := range 4 {
		d.playCymbal(b)
		if filling && b >= 2 {
			d.playFill(b)
			continue
		}
		d.playSnare(b)
		d.playKick(b)
	}
	if g.groove == "rhumba" {
		d.playRhumba()
	}
}

// drummer plays the drums of one bar, which begins at a beat.
type drummer struct {
	hands
	player
	groove    string
	swing, at float64
}

// drum strikes a drum, by its General MIDI key, in beats from the bar's first.
func (d drummer) drum(key int, when float64, louder int) {
	d.hit(fluidsynth.Drums, key, d.at+when, 0.1, d.loudDrums+louder)
}

func (d drummer) playCymbal(beat int) {
	t := float64(beat)
	switch d.cymbal {
	case "quarters":
		d.drum(d.cymbalKey, t, -25)
	case "eighths":
		d.drum(d.cymbalKey, t, -25)
		d.drum(d.cymbalKey, t+d.swing, -35)
	case "ride":
		d.drum(d.cymbalKey, t, -25)
		if beat%2 == 1 || d.chance(0.15) {
			d.drum(d.cymbalKey, t+d.swing, -32)
		}
	case "triplets":
		for k := range 3 {
			d.drum(d.cymbalKey, t+float64(k)/3, -25-5*min(k, 1))
		}
	case "sixteenths":
		for k := range 4 {
			d.drum(d.cymbalKey, t+float64(k)/4, -25-6*(k%2))
		}
	}
}

// playFill rolls over snare and toms for a beat.
func (d drummer) playFill(beat int) {
	for k := range 3 {
		key := choose(d.Rand, 38, 45, 47, 50)
		when := choose(d.Rand, float64(k)/3, 0.5*float64(min(k, 1)))
		d.drum(key, float64(beat)+when, -10)
	}
}

func (d drummer) playSnare(beat int) {
	t := float64(beat)
	if beat%2 == 1 && d.groove != "rhumba" && !d.chance(0.03) {
		d.drum(d.snareKey, t, 5)
	}
	if d.groove == "double shuffle" {
		d.drum(d.snareKey, t+d.swing, -12)
	} else if d.chance(d.ghost) {
		d.drum(38, t+choose(d.Rand, d.swing, 1./3, 2./3, 0.5), -45)
	}
}

func (d drummer) playKick(beat int) {
	const bass = 36
	t := float64(beat)
	switch d.kick {
	case "two":
		if beat%2 == 0 && !d.chance(0.05) {
			d.drum(bass, t, 5)
		}
	case "four":
		d.drum(bass, t, 0)
	case "busy":
		if beat%2 == 0 {
			d.drum(bass, t, 5)
		}
		if d.chance(0.35) {
			d.drum(bass, t+d.swing, -5)
		}
	case "rock":
		switch beat {
		case 0:
			d.drum(bass, 0, 5)
		case 1, 3:
			if d.chance(0.5) {
				d.drum(bass, t+0.5, 0)
			}
		case 2:
			d.drum(bass, 2+choose(d.Rand, 0, 0.5), 5)
		}
	}
}

// playRhumba is what the drums of a rhumba have beside cymbal, snare and kick: rim and toms.
func (d drummer) playRhumba() {
	if d.kick == "rhumba" {
		for _, w := range []float64{0, 1.5, 3} {
			d.drum(36, w, 0)
		}
	}
	for _, w := range choose(d.Rand, []float64{1, 3}, []float64{1, 2.5, 3}, []float64{0, 1.5, 3}) {
		d.drum(37, w, 0)
	}
	d.drum(choose(d.Rand, 45, 64, 47), 3.5, -10)
	if d.chance(0.6) {
		d.drum(choose(d.Rand, 45, 63, 47), 3, -10)
	}
}

// harmonica is a General MIDI program, counted from 0.
const harmonica = 22

// blues are the degrees that the player uses, semitones over the tonic.
var blues = []int{0, 3, 4, 5, 6, 7, 10, 12, 15, 16, 17, 19, 22, 24}

// improvise adds phrases in triplets or eighths with spaces between them.
func (g *gig) improvise(rng *rand.Rand) {
	g.harp.Events = append(g.harp.Events, fluidsynth.Program(0, harmonica))
	p := player{rng, g.harp, g.bpm, 0.008 + 0.017*rng.Float64(), 0.03 * rng.Float64()}
	tonic := 55 + ((g.key-55)%12+12)%12
	at := 2 * rng.Float64()
	grid := choose(rng, 3., 3, 3, 2)
	if g.swing == 0.5 {
		grid = choose(rng, 2., 2, 4, 3)
	}
	step := rng.IntN(8)
	for at < float64(g.bars*g.meter)-2 {
		at = math.Round(at*grid) / grid
		for range 2 + rng.IntN(10) {
			length := choose(rng, 1., 1, 1, 2, 2, 3, 6) / grid
			if grid == 3 && rng.IntN(3) == 0 {
				length = choose(rng, 2./3, 1./3)
			}
			if rng.IntN(12) == 0 {
				length += choose(rng, 2., 3)
			}
			step = min(max(step+rng.IntN(5)-2, 0), len(blues)-1)
			when := at + (p.late+p.loose*rng.NormFloat64())*g.bpm/60
			if when > 0 {
				g.harp.Note(0, tonic+blues[step], when, 0.92*length, 80+rng.IntN(40))
				n := form.Note{Start: when, End: when + 0.92*length, Pitch: float64(tonic + blues[step])}
				g.notes = append(g.notes, n)
			}
			at += length
		}
		at += choose(rng, 0.5, 1, 1, 2, 3, 4) * (0.7 + 0.6*rng.Float64())
	}
}

// waltz plays one bar of three beats.
func (h hands) waltz(p player, g *gig, at float64, root, next int) {
	p.hit(0, h.low(root), at, choose(p.Rand, 0.9, 2.8), 95)
	if p.chance(0.3) {
		p.hit(0, h.low((root+7)%12), at+2, 0.8, 85)
	} else if p.chance(0.3) {
		p.hit(0, h.low(root+4), at+1, 0.8, 85)
		p.hit(0, h.low((root+7)%12), at+2, 0.8, 85)
	}
	strum := func(when, length float64) {
		for _, over := range []int{0, 4, 7, 10}[p.IntN(2):] {
			k := h.voicing + ((root+over-h.voicing)%12+12)%12
			p.hit(1, k, at+when, length, h.loudChords)
		}
	}
	switch h.comp {
	case "held":
		strum(0, 2.8)
	case "sparse":
		if p.chance(0.5) {
			strum(1, 0.4)
		}
		strum(2, 0.4)
	default:
		strum(1, 0.4)
		strum(2, 0.4)
	}
	if h.kick == "none" {
		return
	}
	v := h.loudDrums
	drum := func(key int, when float64, louder int) {
		p.hit(fluidsynth.Drums, key, at+when, 0.1, v+louder)
	}
	drum(36, 0, 5)
	for b := range 3 {
		drum(h.cymbalKey, float64(b), -25)
		if p.chance(0.4) {
			drum(h.cymbalKey, float64(b)+g.swing, -35)
		}
		if b > 0 && p.chance(0.8) {
			drum(h.snareKey, float64(b), -10)
		}
	}
}
