package tabber

import (
	"context"
	"math"
	"slices"
	"sync"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/tabber/beats"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/playing"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tuning"
)

// note is an event on its way to the tab, with all that the rooms tell of it. What is large
// is pointed to, so that lists of notes are short.
type note struct {
	tab.Event
	level    float64 // dB of its own partials
	levelled bool    // whether that was measured
	begin    float64 // seconds: when it is heard to start
	how      *playing.Playing
	heard    *presence.Heard // nil where it does not count
}

// Stream transcribes all of s, which must have been opened at pitch.Rate and
// begin from seconds into the recording. The tuning offset, unless given, is
// measured on the first window that has notes. When the context is done it
// stops with the context's error.
func (t *Transcriber) Stream(ctx context.Context, s *decode.Stream, from float64) (Result, error) {
	return t.transcribe(ctx, from, hearing.Stream(s, from, t.opt.Progress))
}

// Clip transcribes sound held in memory, mono at pitch.Rate.
func (t *Transcriber) Clip(c decode.Clip) Result {
	r, _ := t.transcribe(context.Background(), c.Start, hearing.Whole(c)) // no reading, no error
	return r
}

// transcribe goes through a section window by window, then judges what takes all of it.
func (t *Transcriber) transcribe(
	ctx context.Context,
	from float64,
	section *hearing.Section,
) (Result, error) {
	r := Result{From: from}
	known, past := tuning.Given(t.opt.Tuning), reading.Nothing()
	var (
		all gathered
		who presence.Track
		b   beats.Track
	)
	for w, err := range section.Windows(ctx) {
		if err != nil {
			return r, err
		}
		p, err := parallel.Await(ctx, func() (part, error) { return t.part(w, known, past, &who, &b), nil })
		if err != nil {
			return r, err
		}
		if len(p.notes) > 0 {
			known = tuning.At(p.cents)
		}
		all = all.with(p, past.From)
		r.To, past = w.End(), p.near
		w.Keep(p.seam-reading.Margin, p.frames)
	}
	r.TuningCents = known.Cents
	return parallel.Await(ctx, func() (Result, error) { return t.finished(r, slices.Concat(all...), &who, &b), nil })
}

// part is what was made of a window: the notes of all of it, in order of time, of which
// those count that start before the seam.
type part struct {
	frames pitch.Frames
	cents  float64
	read   reading.Reading
	notes  []note
	seam   float64        // seconds
	near   reading.Nearby // for the next window
}

// part hears and reads a window; what is struck is added to the beats. What needs no ear
// (onsets, and the band once the tuning is known) runs beside the ear. Nothing depends on
// which is done first.
func (t *Transcriber) part(
	w *hearing.Window,
	known tuning.Offset,
	past reading.Nearby,
	who *presence.Track,
	b *beats.Track,
) part {
	c := w.Clip()
	var beside sync.WaitGroup
	beside.Go(func() { b.Add(c) })
	if known.Known {
		beside.Go(func() { b.Listen(c, known.Cents) })
	}
	f, cents := t.tuner.Hear(w, known)
	if !known.Known {
		beside.Go(func() { b.Listen(c, cents) })
	}
	p := t.partOf(w, f, cents, past, who)
	beside.Wait()
	return p
}

// partOf reads what was heard of a window. Those of its notes that start from where the
// past ends to its seam are measured: how loud they are, how they are played, and who plays
// them, which is added to the track. Marks run beside the players.
func (t *Transcriber) partOf(
	w *hearing.Window,
	f pitch.Frames,
	cents float64,
	past reading.Nearby,
	who *presence.Track,
) part {
	c := w.Clip()
	x := t.reader.Read(reading.Sound{Clip: c, Frames: f}, past)
	events := playing.MergeShakes(t.Harp(), f, t.reader.Events(x))
	p := part{
		frames: f, cents: cents, read: x, seam: seamOf(w, f, plain(events)), notes: make([]note, len(events)),
	}
	p.near = x.Near.Until(p.seam)
	first, last := counting(events, past.From, p.seam)
	var how []playing.Playing
	var beside sync.WaitGroup
	beside.Go(func() { how = playing.Measure(t.Harp(), x.Sound, cents, events, past.From, p.seam) })
	heard := who.Add(t.Harp(), f, c, plain(events[first:last]))
	beside.Wait()
	for i, e := range events {
		n := note{Event: e.Event, how: &how[i], begin: t.reader.HeardStart(f, e.Event)}
		if i >= first && i < last {
			n.level, n.levelled = t.reader.Loudness(f, e.Event)
			n.heard = &heard[i-first]
		}
		n.End = min(n.End, w.End()) // the last frame reaches beyond the end
		p.notes[i] = n
	}
	return p
}

// seamOf a window is the time before which what it says counts.
func seamOf(w *hearing.Window, f pitch.Frames, events []tab.Event) float64 {
	at, last := w.Seam(f, events, reading.Behind)
	if last {
		return math.Inf(1)
	}
	return at
}

func plain(events []playing.Shaken) []tab.Event {
	out := make([]tab.Event, len(events))
	for i, e := range events {
		out[i] = e.Event
	}
	return out
}

// counting are the places [first, last) of the events that start in [from, to).
func counting(events []playing.Shaken, from, to float64) (first, last int) {
	for first < len(events) && events[first].Start < from {
		first++
	}
	for last = first; last < len(events) && events[last].Start < to; {
		last++
	}
	return first, last
}

// gathered are the notes of a section, window by window: a single list would be held twice
// whenever it outgrows its room.
type gathered [][]note

// with are the notes with those of a part that start where it counts, from a time on. A note
// held over the seam becomes one again.
func (g gathered) with(p part, from float64) gathered {
	var anew []note
	last := g.last()
	for _, n := range p.notes {
		switch {
		case n.End <= from || n.Start >= p.seam:
		case n.Start >= from:
			anew = append(anew, n)
		case last != nil && tab.Token(last.Actions) == tab.Token(n.Actions):
			last.End = max(last.End, n.End)
		}
	}
	if len(anew) == 0 {
		return g
	}
	return append(g, slices.Clone(anew))
}

// last of the notes; nil if there is none.
func (g gathered) last() *note {
	if len(g) == 0 {
		return nil
	}
	w := g[len(g)-1]
	return &w[len(w)-1]
}

// finished judges what takes all of a section: who plays, marks, phrases, tempo and bars.
func (t *Transcriber) finished(r Result, all []note, who *presence.Track, b *beats.Track) Result {
	players := who.Players(forPresence(all))
	r.Stretches = players.Stretches
	kept, out := t.sorted(all, players)
	r.LeftOut = eventsOf(out)
	if r.Stretches != nil {
		r.Condition = who.Condition(eventsOf(kept), r.LeftOut, r.Stretches)
	}
	kept = heard(withMarks(kept))
	r.Events = eventsOf(kept)
	r.Phrases = phrasing.Find(forPhrases(kept))
	r.Found = b.Find(beats.Heard{
		Harp: t.Harp(), Events: r.Events, Cents: r.TuningCents, To: r.To,
		Alone: r.Condition.HarpDB >= presence.AloneDB,
	}, t.opt.Asked)
	return r
}

// sorted tells the notes that are written from those that no harp played. If none would
// be left all are written, as doubtful as they are: the harp may be one that sounds like
// no other.
func (t *Transcriber) sorted(all []note, players presence.Players) (kept, out []note) {
	weighed := slices.Clone(all)
	for i, v := range players.Verdicts {
		weighed[i].Event = reading.Told(all[i].Event, v.Harp)
		if v.Kind == presence.Harp || v.Kind == presence.Voice && t.opt.KeepVoice {
			kept = append(kept, weighed[i])
		} else {
			out = append(out, weighed[i])
		}
	}
	if len(kept) == 0 {
		return weighed, nil
	}
	return kept, out
}

func eventsOf(notes []note) []tab.Event {
	var out []tab.Event
	for _, n := range notes {
		out = append(out, n.Event)
	}
	return out
}

func forPresence(notes []note) []presence.Event {
	out := make([]presence.Event, len(notes))
	for i, n := range notes {
		out[i] = presence.Event{Event: n.Event, Heard: *n.heard}
	}
	return out
}

func forPhrases(notes []note) []phrasing.Heard {
	out := make([]phrasing.Heard, len(notes))
	for i, n := range notes {
		out[i] = phrasing.Heard{Event: n.Event, Level: n.level, Measured: n.levelled}
	}
	return out
}

// withMarks are the notes with their marks.
func withMarks(notes []note) []note {
	how := make([]playing.Playing, len(notes))
	for i, n := range notes {
		how[i] = *n.how
	}
	out := slices.Clone(notes)
	for i, e := range playing.Mark(eventsOf(notes), how) {
		out[i].Event = e
	}
	return out
}

// heard are the notes from where they are heard to start: of one that is slapped or scooped
// that is where the slap or the scoop begins.
func heard(notes []note) []note {
	out := slices.Clone(notes)
	for i, n := range notes {
		_, slapped := n.Mark(tab.Slap)
		if _, scooped := n.Mark(tab.Scoop); !slapped && !scooped {
			out[i].Start = n.begin
		}
	}
	return out
}
