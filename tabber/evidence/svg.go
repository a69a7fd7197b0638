package evidence

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// The drawing: dark ground, the spectrum as a filled outline over a logarithmic
// axis, each reed's partials as marks of its own shape and colour on stems, and for
// partials that a reed shares with the lowest a bar at what that one explains.
const (
	panelWidth  = 860.0
	panelHeight = 250.0
	left        = 46.0
	lineHeight  = 15.0
	ground      = "#14181f"
	outline     = "#5b6b80"
	ink         = "#d9dee6"
)

var reedColours = []string{"#f2b04a", "#4cc2b1", "#e0708a", "#9a8cf0", "#b8cc5a", "#6aa7e8"}

// WriteSVG draws the looks in which more than one reed is in question, one below the
// other, under a title. Clock writes seconds.
func WriteSVG(w io.Writer, title string, looks []Look, clock func(seconds float64) string) error {
	var b strings.Builder
	y := 40.0
	for _, l := range looks {
		if len(l.Reeds) > 1 {
			y = l.draw(&b, y, clock)
		}
	}
	if b.Len() == 0 {
		text(&b, left, 64, 13, ink, "No event with more than one reed in question.")
		y = 90
	}
	_, err := fmt.Fprintf(
		w,
		`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" font-family="sans-serif">
<title>%s</title>
<rect width="100%%" height="100%%" fill="%s"/>
<text x="%.0f" y="24" font-size="15" fill="%s">%s</text>
%s</svg>
`,
		panelWidth,
		y,
		html.EscapeString(tab.OneLine(title)),
		ground,
		left,
		ink,
		html.EscapeString(tab.OneLine(title)),
		b.String(),
	)
	return err
}

func text(b *strings.Builder, x, y, size float64, colour, s string) {
	fmt.Fprintf(
		b,
		"<text x=\"%.1f\" y=\"%.1f\" font-size=\"%.0f\" fill=\"%s\">%s</text>\n",
		x,
		y,
		size,
		colour,
		html.EscapeString(tab.OneLine(s)),
	)
}

// draw a look from y on down and return where it ends.
func (l Look) draw(b *strings.Builder, y float64, clock func(float64) string) float64 {
	text(b, left, y+16, 13, ink, clock(l.Start)+"  "+l.Heading)
	y += 20
	for _, s := range l.Words {
		text(b, left, y+lineHeight, 11, "#9fb0c4", s)
		y += lineHeight
	}
	p := l.plot(y + 14)
	l.curve(b, p)
	for i, r := range l.Reeds {
		for _, q := range r.Partials {
			p.mark(b, i, q)
		}
		text(b, left+10+70*float64(i), y+24, 12, reedColours[i%len(reedColours)], shapes[i%len(shapes)]+" "+r.Name)
	}
	text(
		b,
		left+10+70*float64(len(l.Reeds)),
		y+24,
		11,
		reedColours[0],
		"▬ what "+l.Reeds[0].Name+" alone lets expect",
	)
	p.axis(b)
	return p.bottom + 40
}

// plot places frequencies and levels.
type plot struct{ top, bottom, lowHz, highHz, loud float64 }

func (l Look) plot(y float64) plot {
	p := plot{top: y, bottom: y + panelHeight, lowHz: l.Reeds[0].Hz / 1.5, loud: -200}
	for _, r := range l.Reeds {
		for _, q := range r.Partials {
			p.highHz, p.loud = max(p.highHz, 1.1*q.Hz), max(p.loud, q.Level)
		}
	}
	return p
}

func (p plot) x(hz float64) float64 {
	return left + (panelWidth-2*left)*math.Log(hz/p.lowHz)/math.Log(p.highHz/p.lowHz)
}

func (p plot) y(db float64) float64 {
	share := min(max(1+(db-p.loud)/bottomDB, 0), 1)
	return p.bottom - share*(panelHeight-30)
}

// curve draws the spectrum, one point a column.
func (l Look) curve(b *strings.Builder, p plot) {
	fmt.Fprintf(
		b,
		`<path fill="%s" fill-opacity="0.35" stroke="%s" d="M%.1f %.1f`,
		outline,
		outline,
		left,
		p.bottom,
	)
	for x := left; x <= panelWidth-left; x += 1.5 {
		hz := func(x float64) float64 {
			return p.lowHz * math.Pow(p.highHz/p.lowHz, (x-left)/(panelWidth-2*left))
		}
		lo := int(hz(x-0.75) * float64(l.Spectrum.Size) / pitch.Rate)
		hi := min(int(hz(x+0.75)*float64(l.Spectrum.Size)/pitch.Rate), len(l.Spectrum.Power)-1)
		top := 0.0
		for k := lo; k <= hi; k++ {
			top = max(top, l.Spectrum.Power[k])
		}
		fmt.Fprintf(b, "L%.1f %.1f", x, p.y(decibels(top)))
	}
	fmt.Fprintf(b, "L%.1f %.1fZ\"/>\n", panelWidth-left, p.bottom)
}

var shapes = []string{"●", "◆", "▲", "■", "▼", "★"}

// mark a partial of reed i: stem, shape and number, and what is expected without the
// reed.
func (p plot) mark(b *strings.Builder, i int, q Partial) {
	if q.Level < p.loud-bottomDB {
		return
	}
	x, y, colour := p.x(q.Hz), p.y(q.Level), reedColours[i%len(reedColours)]
	y -= 11 * float64(i) // marks of one frequency stand above one another
	fmt.Fprintf(
		b,
		"<line x1=\"%.1f\" x2=\"%.1f\" y1=\"%.1f\" y2=\"%.1f\" stroke=\"%s\" stroke-opacity=\"0.5\"/>\n",
		x,
		x,
		p.bottom,
		y,
		colour,
	)
	fmt.Fprintf(
		b,
		"<text x=\"%.1f\" y=\"%.1f\" font-size=\"10\" text-anchor=\"middle\" fill=\"%s\">%s%d</text>\n",
		x,
		y-3,
		colour,
		shapes[i%len(shapes)],
		q.Number,
	)
	if q.Shared && !math.IsInf(q.Expected, 0) {
		e := p.y(q.Expected)
		fmt.Fprintf(
			b,
			"<line x1=\"%.1f\" x2=\"%.1f\" y1=\"%.1f\" y2=\"%.1f\" stroke=\"%s\" stroke-width=\"2\"/>\n",
			x-7,
			x+7,
			e,
			e,
			reedColours[0],
		)
	}
}

// axis in Hz.
func (p plot) axis(b *strings.Builder) {
	for _, hz := range []float64{100, 200, 300, 500, 700, 1000, 1500, 2000, 3000, 5000, 7000} {
		if hz > p.lowHz && hz < p.highHz {
			fmt.Fprintf(
				b,
				"<text x=\"%.1f\" y=\"%.1f\" font-size=\"10\" text-anchor=\"middle\" fill=\"#7f8da0\">%.0f</text>\n",
				p.x(hz),
				p.bottom+13,
				hz,
			)
		}
	}
	text(b, panelWidth-left+6, p.bottom+13, 10, "#7f8da0", "Hz")
}
