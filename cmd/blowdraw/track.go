package main

import (
	"fmt"
	"math"

	"blowdraw/decode"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"

	"github.com/spf13/cobra"
)

// trackFlags are how a track to play along with is put together.
type trackFlags struct {
	click   bool
	countIn int
	loop    int
	faster  float64
}

// Limits of a track.
const (
	mostCountIn = 32
	mostFaster  = 0.5
	mostTrack   = 60 * 60 // s, all times together
)

func (f *trackFlags) add(c *cobra.Command) {
	c.Flags().BoolVar(&f.click, "click", false, "a click on every beat")
	c.Flags().IntVar(&f.countIn, "count-in", 0, "clicks before it begins, one a beat")
	c.Flags().IntVar(&f.loop, "loop", 1, "how many times it is heard, one after the other")
	c.Flags().Float64Var(&f.faster, "faster", 0, "with --loop: each time so much faster, as 0.05, up to the "+
		"speed of the recording")
}

func (f *trackFlags) check(c *cobra.Command) error {
	switch {
	case f.loop < 1 || f.loop > mostLoops:
		return usage(c, "--loop %d: want 1 to %d", f.loop, mostLoops)
	case f.countIn < 0 || f.countIn > mostCountIn:
		return usage(c, "--count-in %d: want 0 to %d", f.countIn, mostCountIn)
	case !(f.faster >= 0 && f.faster <= mostFaster):
		return usage(c, "--faster %g: want 0 to %g, such as 0.05", f.faster, mostFaster)
	case f.faster > 0 && f.loop == 1:
		return usage(c, "--faster: how many times? Give --loop, such as --loop 8")
	}
	return nil
}

// beats reports whether beats are asked for.
func (f *trackFlags) beats() bool { return f.click || f.countIn > 0 }

// speeds of the times that something is heard, from a first speed on. It gets no faster
// than as recorded.
func (f *trackFlags) speeds(first float64) []float64 {
	out := make([]float64, f.loop)
	for i := range out {
		out[i] = min(first+float64(i)*f.faster, max(first, 1))
	}
	return out
}

// track is a stretch of music that is heard several times.
type track struct {
	trackFlags
	speeds   []float64
	from, to float64      // seconds of the recording
	beats    tab.Document // whose beats are counted and clicked
	pause    float64      // s between times where nothing is counted
	rate     int
}

// build puts a track together of what play makes of the stretch at a speed: channels,
// which are taken over. Where it is clicked a time ends with a whole beat, or bar if bars
// are known, so that the next goes on in time. It is counted in once, or, if it changes
// its speed, each time.
func (t track) build(play func(speed float64) ([][]float64, error)) ([][]float64, error) {
	var out, once [][]float64
	for i, speed := range t.speeds {
		changed := i == 0 || speed != t.speeds[i-1]
		if changed {
			var err error
			if once, err = play(speed); err != nil {
				return nil, err
			}
			once = t.clicked(once, speed)
		}
		var before []float64
		switch {
		case t.countIn > 0 && (i == 0 || t.faster > 0 || t.pause > 0):
			before = t.counted(speed)
		case i > 0:
			before = make([]float64, int(t.pause*float64(t.rate)))
		}
		for k, x := range once {
			if i == 0 {
				out = append(out, nil)
			}
			out[k] = append(append(out[k], before...), x...)
		}
		if seconds := float64(len(out[0])) / float64(t.rate); seconds > mostTrack {
			return nil, fmt.Errorf("all together it would take more than %d minutes; choose a shorter "+
				"section or fewer times (--loop)", mostTrack/60)
		}
	}
	return out, nil
}

// clicked adds clicks to one time, if they are asked for.
func (t track) clicked(channels [][]float64, speed float64) [][]float64 {
	if t.click {
		g := grid.Of(t.beats)
		whole := 1.0
		if g.Known {
			whole = float64(g.PerBar)
		}
		beats := whole * math.Ceil((g.At(t.to)-g.At(t.from))/whole-1e-6)
		n := int(math.Round((g.Time(g.At(t.from)+beats) - t.from) / speed * float64(t.rate)))
		for i, x := range channels {
			if len(t.speeds) > 1 && n > len(x) {
				x = append(x, make([]float64, n-len(x))...)
			}
			seconds := float64(len(x)) / float64(t.rate)
			render.AddClicks(x, t.rate, render.Clicks(t.beats, t.from, speed, seconds))
			channels[i] = x
		}
	}
	render.Soften(channels, t.rate)
	return channels
}

// counted is the count-in before a time: the beats before its first one.
func (t track) counted(speed float64) []float64 {
	g := grid.Of(t.beats)
	first := math.Ceil(g.At(t.from)-1e-6) - float64(t.countIn)
	begin := g.Time(first)
	clicks := render.Clicks(t.beats, begin, speed, (t.from-begin)/speed-1e-6)
	if len(clicks) > 0 && !g.Known {
		clicks[0].First = true
	}
	x := make([]float64, int(math.Round((t.from-begin)/speed*float64(t.rate))))
	render.AddClicks(x, t.rate, clicks)
	return x
}

// tooLong is the error of a stretch that takes longer than can be made to sound.
func tooLong(name string, from, to float64) error {
	if to-from <= mostSeconds {
		return nil
	}
	return fmt.Errorf("%s: it runs for %s; at most %d minutes can be made to sound",
		name, decode.Clock(to-from), mostSeconds/60)
}
