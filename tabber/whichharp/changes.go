package whichharp

import (
	"context"
	"errors"
	"io"
	"math"

	"blowdraw/decode"
	"blowdraw/pitch"
)

// Stretch is a part of a recording in which one harp is played, in seconds from
// the start of the recording. Probability is the mean over its time that it is
// that harp, as each piece of it says by itself.
type Stretch struct {
	From, To float64
	Candidate
}

const (
	changing = 0.03 // probability that the harp changes from one piece to the next
	unheard  = 1e-4 // probability of a harp of which a piece says nothing
)

// Changes listens to all of s, opened at pitch.Rate, piece by piece of so many
// seconds, and joins pieces in which the same harp is likeliest (Viterbi 1967).
// Pieces without sound belong to the stretch before. Progress, if not nil, is
// told the seconds that were heard.
func (r *Ranker) Changes(
	ctx context.Context,
	s *decode.Stream,
	seconds float64,
	opt Options,
	progress func(seconds float64),
) ([]Stretch, error) {
	var pieces []Stretch
	var rankings [][]Candidate
	at, samples := s.Start(), make([]float64, int(seconds*pitch.Rate))
	for {
		n, err := readFull(s, samples)
		if n > 0 {
			c := decode.Clip{Rate: pitch.Rate, Start: at, Samples: samples[:n]}
			k, err := r.Rank(ctx, c, opt)
			if err != nil {
				return nil, err
			}
			from := at
			at += float64(n) / pitch.Rate
			if len(k.Candidates) > 0 {
				pieces = append(pieces, Stretch{From: from, To: at})
				rankings = append(rankings, k.Candidates)
			} else if len(pieces) > 0 {
				pieces[len(pieces)-1].To = at
			}
			if progress != nil {
				progress(at - s.Start())
			}
		}
		if errors.Is(err, io.EOF) {
			return joinStretches(pieces, rankings), nil
		}
		if err != nil {
			return nil, err
		}
	}
}

// readFull fills x as far as the stream goes.
func readFull(s *decode.Stream, x []float64) (n int, err error) {
	for n < len(x) && err == nil {
		var k int
		k, err = s.Read(x[n:])
		n += k
	}
	return n, err
}

// joinStretches of pieces by the likeliest sequence of harps.
func joinStretches(pieces []Stretch, rankings [][]Candidate) []Stretch {
	path := likeliest(rankings)
	var out []Stretch
	for i, name := range path {
		p := pieces[i]
		p.Candidate = find(rankings[i], name)
		if n := len(out); n > 0 && label(out[n-1].Candidate) == name {
			last := &out[n-1]
			a, b := last.To-last.From, p.To-p.From
			mean := (a*last.Probability + b*p.Probability) / (a + b)
			if p.Probability > last.Probability {
				last.Candidate = p.Candidate
			}
			last.Probability, last.To = mean, p.To
			continue
		}
		out = append(out, p)
	}
	return out
}

func label(c Candidate) string { return c.Harp.Name + " " + c.Harp.Layout.Name }

func find(candidates []Candidate, name string) Candidate {
	for _, c := range candidates {
		if label(c) == name {
			return c
		}
	}
	return Candidate{}
}

// likeliest sequence of harps over the pieces.
func likeliest(rankings [][]Candidate) []string {
	var names []string
	seen := map[string]bool{}
	for _, k := range rankings {
		for _, c := range k {
			if n := label(c); !seen[n] {
				seen[n] = true
				names = append(names, n)
			}
		}
	}
	score := make([]float64, len(names))
	back := make([][]int, len(rankings))
	for t, k := range rankings {
		best := 0
		for i, s := range score {
			if s > score[best] {
				best = i
			}
		}
		next := make([]float64, len(names))
		back[t] = make([]int, len(names))
		for i, name := range names {
			next[i], back[t][i] = score[i], i
			if moved := score[best] + math.Log(changing); moved > score[i] {
				next[i], back[t][i] = moved, best
			}
			next[i] += math.Log(max(unheard, find(k, name).Probability))
		}
		score = next
	}
	return trace(names, score, back)
}

func trace(names []string, score []float64, back [][]int) []string {
	at := 0
	for i, s := range score {
		if s > score[at] {
			at = i
		}
	}
	path := make([]string, len(back))
	for t := len(back) - 1; t >= 0; t-- {
		path[t] = names[at]
		at = back[t][at]
	}
	return path
}
