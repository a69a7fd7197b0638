package render

import (
	"math"
	"math/rand/v2"

	"blowdraw/pitch"
)

// reedTone draws the partials of a reed: amplitudes (scaled so that the tone
// has an RMS of 1) and phases in radians. Partial k+1 of the tone is element k.
// Partials that could pass 0.45 of the sample rate are left out.
func reedTone(seed uint64, n Note, rate int) (amp, phase []float64) {
	rng := rand.New(rand.NewPCG(seed, uint64(n.Reed)+1))
	slope := 4 + 3*rng.Float64()           // dB per octave of partial number
	even := 2.5 * rng.NormFloat64()        // dB, even partials against odd ones
	first := -4 * rng.Float64()            // dB, the fundamental
	body := drawBody(rand.NewPCG(seed, 0)) // the same for the whole set
	top := 0.45 * float64(rate)
	high := n.MIDI + highest(n)/100
	hz := pitch.MIDIToHz(n.MIDI)
	var power float64
	for k := 1; k <= maxPartial; k++ {
		scatter, turn := 2.5*rng.NormFloat64(), rng.Float64()
		if float64(k)*pitch.MIDIToHz(high) > top {
			break
		}
		db := scatter - (slope+n.Dark)*math.Log2(float64(k)) + body.gain(float64(k)*hz)
		if k%2 == 0 {
			db += even
		}
		if k == 1 {
			db += first
		}
		a := math.Pow(10, db/20)
		amp = append(amp, a)
		phase = append(phase, 2*math.Pi*turn)
		power += a * a / 2
	}
	for k := range amp {
		amp[k] /= math.Sqrt(power)
	}
	return amp, phase
}

// highest is the most that a note rises above its steady pitch, in cents.
func highest(n Note) float64 {
	var c float64
	for _, p := range n.Contour {
		c = max(c, p.Value)
	}
	return c + max(-n.Scoop, 0) + n.VibratoCents + 20
}

// body is what cover plates and hands do to all reeds alike.
type body struct {
	hz, db, width [2]float64 // resonances; width in octaves
}

func drawBody(src rand.Source) body {
	rng := rand.New(src)
	var b body
	centre := [2]float64{900, 2600}
	for i := range b.hz {
		b.hz[i] = centre[i] * math.Pow(2, rng.Float64()-0.5)
		b.db[i] = 3 + 5*rng.Float64()
		b.width[i] = 0.5 + 0.4*rng.Float64()
	}
	return b
}

// gain is the body's gain in dB at a frequency in Hz. Below 350 Hz and above
// 5 kHz it falls: small plates radiate lows badly, and air takes the highs.
func (b body) gain(hz float64) float64 {
	var db float64
	for i := range b.hz {
		x := math.Log2(hz/b.hz[i]) / b.width[i]
		db += b.db[i] * math.Exp(-x*x)
	}
	db -= 5 * max(math.Log2(350/hz), 0)
	db -= 9 * max(math.Log2(hz/5000), 0)
	return db
}

// breath is the hiss of air through the slots: white noise through a
// resonator (two poles, a zero at 0 Hz), scaled to an RMS against the tone.
type breath struct {
	rng    *rand.Rand
	a1, a2 float64
	scale  float64
	unit   float64 // factor that makes its RMS a full tone's
	y1, y2 float64
}

func newBreath(set Set, rng *rand.Rand, rate int) *breath {
	db := set.Breath
	if db == 0 {
		db = -40
	}
	const centre, width = 2500.0, 3000.0 // Hz
	r := math.Exp(-math.Pi * width / float64(rate))
	b := &breath{rng: rng, a1: 2 * r * math.Cos(2*math.Pi*centre/float64(rate)), a2: -r * r}
	// The RMS of the filtered noise is measured on its impulse response.
	var y1, y2, power float64
	for i, x := 0, 1.0; i < 2000; i++ {
		y := x + b.a1*y1 + b.a2*y2
		y2, y1 = y1, y
		power += (y - y2) * (y - y2)
		x = 0
	}
	b.scale, b.unit = math.Pow(10, db/20)/math.Sqrt(power), math.Pow(10, -db/20)
	return b
}

func (b *breath) next() float64 {
	y := b.rng.NormFloat64() + b.a1*b.y1 + b.a2*b.y2
	d := y - b.y1
	b.y2, b.y1 = b.y1, y
	return d * b.scale
}

// drifter wanders a few cents about the pitch, as breath pressure does: a
// leaky random walk, one step a block.
type drifter struct {
	rng  *rand.Rand
	walk float64
}

// next is the drift in cents: about 1.5 cents RMS.
func (d *drifter) next() float64 {
	d.walk = 0.995*d.walk + 0.15*d.rng.NormFloat64()
	return d.walk
}
