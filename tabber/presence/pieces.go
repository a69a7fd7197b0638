package presence

import "math"

// Of a long recording little may be kept: frames are summed up in pieces of half
// the step between blocks, of which every block has a whole number.
const pieceFrames = blockFrames / 2

// piece sums up frames.
type piece struct {
	frames, power                                float32 // power: sum of 10^(level/10)
	level, levelSpread, centroid, centroidSpread float32 // means, and sums of squares about them
	surest, breath, doubt, glide, flatness       float32 // sums
}

func pieceOf(frames []sketch) piece {
	var power, level, centroid, levels, centroids float64
	var sum sketch
	n := float64(len(frames))
	for _, f := range frames {
		power += math.Pow(10, f.level/10)
		level += f.level / n
		centroid += f.centroid / n
		sum.surest += f.surest
		sum.breath += f.breath
		sum.doubt += f.doubt
		sum.glide += f.glide
		sum.flatness += f.flatness
	}
	for _, f := range frames {
		levels += (f.level - level) * (f.level - level)
		centroids += (f.centroid - centroid) * (f.centroid - centroid)
	}
	return piece{
		frames: float32(n), power: float32(power),
		level: float32(
			level,
		), levelSpread: float32(levels), centroid: float32(centroid), centroidSpread: float32(centroids),
		surest: float32(sum.surest), breath: float32(sum.breath), doubt: float32(sum.doubt),
		glide: float32(sum.glide), flatness: float32(sum.flatness),
	}
}

// cuesOf a block's pieces; those of its events are 0.
func cuesOf(pieces []piece) cues {
	var x cues
	var n, power, level, centroid, levels, centroids float64
	for _, p := range pieces {
		n += float64(p.frames)
	}
	for _, p := range pieces {
		power += float64(p.power) / n
		level += float64(p.level*p.frames) / n
		centroid += float64(p.centroid*p.frames) / n
		x[surest] += float64(p.surest) / n
		x[breath] += float64(p.breath) / n
		x[doubtful] += float64(p.doubt) / n
		x[gliding] += float64(p.glide) / n
		x[flat] += float64(p.flatness) / n
	}
	for _, p := range pieces {
		d, e := float64(p.level)-level, float64(p.centroid)-centroid
		levels += float64(p.levelSpread) + float64(p.frames)*d*d
		centroids += float64(p.centroidSpread) + float64(p.frames)*e*e
	}
	x[doubtful] = math.Log(x[doubtful] + leastDoubtful)
	x[above] = 10 * math.Log10(power+1e-9)
	x[pulsing] = math.Sqrt(levels / n)
	x[colour] = math.Sqrt(centroids / n)
	return x
}

// centibel is a level in hundredths of a dB.
type centibel int16

func centibels(db float64) centibel { return centibel(math.Round(100 * min(max(db, -300), 300))) }

func (c centibel) dB() float64 { return float64(c) / 100 }

// percentile of levels in dB, q in 0 to 1.
func percentile(levels []centibel, q float64) float64 {
	counts := make([]int32, math.MaxUint16+1)
	for _, v := range levels {
		counts[int(v)-math.MinInt16]++
	}
	rank := int32(q*float64(len(levels)-1) + 0.5)
	for v, n := range counts {
		if rank -= n; rank < 0 {
			return centibel(v + math.MinInt16).dB()
		}
	}
	panic("presence: percentile of no levels")
}

// add appends what is new of a window from frame keep of the track on, and sums up
// what no later window will say again.
func (t *Track) add(keep int, frames []sketch) {
	t.recent = append(t.recent[:keep-t.summed()], frames...)
	t.level, t.whole = t.level[:keep], t.whole[:keep]
	for _, f := range frames {
		t.level, t.whole = append(t.level, centibels(f.level)), append(t.whole, centibels(f.whole))
	}
	n := max(0, len(t.recent)-recentFrames) / pieceFrames
	for i := range n {
		t.pieces = append(t.pieces, pieceOf(t.recent[i*pieceFrames:(i+1)*pieceFrames]))
	}
	t.recent = append(t.recent[:0], t.recent[n*pieceFrames:]...)
}

// summed is the number of frames that are summed up.
func (t *Track) summed() int { return len(t.pieces) * pieceFrames }

// frames is the number of all frames.
func (t *Track) frames() int { return len(t.whole) }

// unsummed is the pieces of the frames that are not summed up.
func (t *Track) unsummed() []piece {
	var out []piece
	for i := 0; i < len(t.recent); i += pieceFrames {
		out = append(out, pieceOf(t.recent[i:min(i+pieceFrames, len(t.recent))]))
	}
	return out
}
