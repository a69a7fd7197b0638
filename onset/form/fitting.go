package form

// What follows is what the programs need that fit the numbers of this package.

// Attacks is how strongly something begins in each strand ([StrandNames]) around each
// frame of s.DrumHop, given the player's notes: levels from 0 to [Levels]-1, or [Levels]
// in pauses; of the player's notes 1 or 0.
func (s Sound) Attacks(notes []Note) [][]uint8 {
	a, _ := s.attacks(notes)
	return a[:]
}

// Rivals are what [FindBars] finds before it decides: the bars of both ways, or those
// that they agree on, with what the models of sureness are told of them, and for the
// model [Alone] the struck ones once more. None where no band plays.
func Rivals(s Sound, beats []float64, notes []Note, opt Options) []Rival {
	if len(beats) < 2 {
		return nil
	}
	c := s.candidates(beats, notes, opt.meter(), opt)
	if len(c.followed.Firsts) == 0 {
		return nil
	}
	return append(c.rivals(), c.alone())
}

// Followed are beats moved to where grooves go on, in seconds, and what is heard at each.
type Followed struct {
	Beats []float64
	heard []heard
	sure  float64 // probability that the beats are right
	meter int
	band  float64 // how much of a band there is to hear, 0 to 1
	key   *int
}

// Follow moves the beats of a section, in seconds, to where grooves go on, given the
// player's notes by start. It reports false where no band plays.
func Follow(s Sound, beats []float64, notes []Note, opt Options) (Followed, bool) {
	frames, bass := s.band(notes)
	band := bandShare(bass)
	if band == 0 || len(beats) < 2 {
		return Followed{}, false
	}
	f := s.followed(frames, beats, notes, opt.meter(), band, opt)
	return f, len(f.heard) > 0
}

// Places are the probabilities of each beat's place in the bar, from the first on, with
// weights in the order of [PlaceNames].
func (f Followed) Places(weights []float64) [][]float64 {
	places, _ := newModel(f.meter, f.key, placeWeights(weights)).decide(f.heard, f.band)
	return places
}

// followed moves beats to where grooves go on. Nothing is heard if fewer than two are
// left.
func (s Sound) followed(
	frames []hidden, beats []float64, notes []Note, m int, band float64, opt Options,
) Followed {
	a, pauses := s.attacks(notes)
	gs := groovesIn(m)
	var paths []path
	out := Followed{sure: 1, meter: m, band: band, key: opt.Key}
	if band > 0 && !opt.Fixed {
		paths, out.sure = s.likeliest(gs, a, pauses, beats, opt.Steady)
	}
	if len(paths) > 0 {
		beats = s.times(paths[0], pauses)
	} else {
		paths = s.given()
	}
	out.Beats = beats
	if len(beats) < 2 {
		return out
	}
	out.heard = s.hear(frames, beats, notes)
	for i, r := range s.rhythms(gs, a, beats, paths) {
		out.heard[i].rhythm = r
	}
	return out
}
