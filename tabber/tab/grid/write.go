package grid

// Piece is a note or rest that can be written as one sign.
type Piece struct {
	Events          []int // indices of the events that sound; none: a rest
	Length          int   // units
	Kind            Kind
	Dotted          bool
	Triplet         bool // three in the time of two
	Starts, Stops   bool // the triplet group, which is a beat
	TiedFrom, TieTo bool // sounds on from the piece before, into the piece after
}

// Kind is the sign of a piece.
type Kind int

// Kinds of signs, by how often they halve the whole note.
const (
	Whole Kind = iota
	Half
	Quarter
	Eighth
	Sixteenth
	ThirtySecond
	SixtyFourth
)

// Bar is the pieces of one bar, which fill it.
type Bar struct {
	Number int
	Pieces []Piece
}

// stretch is what sounds without a change, in units.
type stretch struct {
	events   []int
	from, to int
}

// Bars writes spans out in bars, from the bar of the first span to that of the
// last.
func (g Grid) Bars(spans []Span) []Bar {
	if len(spans) == 0 {
		return nil
	}
	size := g.PerBar * Unit
	first := floorDiv(spans[0].From, size) * size
	all := stretches(spans, first)
	for len(all) > 0 && (all[len(all)-1].to-first)%size != 0 {
		to := all[len(all)-1].to
		all = append(all, stretch{nil, to, first + ((to-first)/size+1)*size})
	}
	var out []Bar
	for at := first; at < all[len(all)-1].to; at += size {
		out = append(out, Bar{g.First + floorDiv(at, size), g.pieces(all, at, at+size)})
	}
	return out
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// stretches makes one of spans that start together and fills the silence between.
func stretches(spans []Span, from int) []stretch {
	var out []stretch
	at := from
	for _, s := range spans {
		if n := len(out); n > 0 && len(out[n-1].events) > 0 && out[n-1].from == s.From {
			out[n-1].events = append(out[n-1].events, s.Event)
			out[n-1].to = max(out[n-1].to, s.To)
			at = out[n-1].to
			continue
		}
		if s.From > at {
			out = append(out, stretch{nil, at, s.From})
		}
		out = append(out, stretch{[]int{s.Event}, s.From, s.To})
		at = s.To
	}
	return out
}

// pieces writes out what lies in a bar.
func (g Grid) pieces(all []stretch, from, to int) []Piece {
	triplets := tripletBeats(all, from, to)
	var out []Piece
	for _, s := range all {
		a, b := max(s.from, from), min(s.to, to)
		for a < b {
			var p Piece
			if g.Compound {
				p = nextCompound(a, b, from)
			} else {
				p = next(a, b, from, triplets)
			}
			p.Events = s.events
			if len(s.events) > 0 {
				p.TiedFrom, p.TieTo = a > s.from, a+p.Length < s.to
			}
			if p.Triplet {
				p.Starts, p.Stops = (a-from)%Unit == 0, (a+p.Length-from)%Unit == 0
			}
			out = append(out, p)
			a += p.Length
		}
	}
	return out
}

// tripletBeats tells of each beat of a bar whether it is divided by three.
func tripletBeats(all []stretch, from, to int) []bool {
	out := make([]bool, (to-from)/Unit)
	for _, s := range all {
		for _, at := range []int{s.from, s.to} {
			if at > from && at < to && (at-from)%Unit%3 != 0 {
				out[(at-from)/Unit] = true
			}
		}
	}
	return out
}

// Signs by their length in units, longest first. Those of triplets last as long as
// written times two thirds.
var (
	plain = []Piece{
		{Length: 96, Kind: Whole}, {Length: 72, Kind: Half, Dotted: true}, {Length: 48, Kind: Half},
		{Length: 36, Kind: Quarter, Dotted: true}, {Length: 24, Kind: Quarter},
		{Length: 18, Kind: Eighth, Dotted: true}, {Length: 12, Kind: Eighth},
		{Length: 9, Kind: Sixteenth, Dotted: true}, {Length: 6, Kind: Sixteenth},
		{Length: 3, Kind: ThirtySecond},
	}
	inTriplets = []Piece{
		{Length: 16, Kind: Quarter}, {Length: 12, Kind: Eighth, Dotted: true}, {Length: 8, Kind: Eighth},
		{Length: 6, Kind: Sixteenth, Dotted: true}, {Length: 4, Kind: Sixteenth},
		{Length: 3, Kind: ThirtySecond, Dotted: true}, {Length: 2, Kind: ThirtySecond},
		{Length: 1, Kind: SixtyFourth},
	}
)

// wholeBeats are the signs of whole beats of three eighths.
var wholeBeats = []Piece{
	{Length: 96, Kind: Whole, Dotted: true}, {Length: 48, Kind: Half, Dotted: true},
	{Length: 24, Kind: Quarter, Dotted: true},
}

// nextCompound is [next] where a beat is three eighths: there the signs that would
// be triplets stand for themselves.
func nextCompound(a, b, bar int) Piece {
	into := (a - bar) % Unit
	if into == 0 {
		for _, p := range wholeBeats {
			if p.Length <= b-a {
				return p
			}
		}
	}
	room := min(b-a, Unit-into)
	for _, p := range inTriplets {
		if p.Length <= room {
			return p
		}
	}
	panic("grid: a place that is no whole number of units")
}

// next is the longest sign that begins at a and ends at b at the latest. Whole
// beats are written as such; within a beat nothing crosses its end but the
// dotted quarter that begins a beat.
func next(a, b, bar int, triplets []bool) Piece {
	beat := (a - bar) / Unit
	into := (a - bar) % Unit
	if into == 0 && b-a >= Unit {
		for _, p := range plain {
			whole := p.Length%Unit == 0
			dotted := p.Length == 36 && !triplets[min(beat+1, len(triplets)-1)]
			if p.Length <= b-a && (whole || dotted) {
				return p
			}
		}
	}
	signs := plain
	if triplets[beat] {
		signs = inTriplets
	}
	room := min(b-a, Unit-into)
	for _, p := range signs {
		if p.Length <= room && p.Length < Unit {
			p.Triplet = triplets[beat]
			return p
		}
	}
	panic("grid: a place that is no whole number of units")
}
