package fit

// SearchFactors makes a loss of positive numbers smaller: it changes one at a time by
// 1+step or its inverse as long as that helps, and halves step, 1/2 at first, when nothing
// helps any more, down to 0.01.
func SearchFactors(start []float64, loss func([]float64) float64) []float64 {
	const gain, first, last = 1e-6, 0.5, 0.01
	best := append([]float64(nil), start...)
	least := loss(best)
	for step := first; step > last; {
		gained := false
		for i := range best {
			for _, factor := range []float64{1 + step, 1 / (1 + step)} {
				try := append([]float64(nil), best...)
				try[i] *= factor
				if x := loss(try); x < least-gain {
					best, least, gained = try, x, true
				}
			}
		}
		if !gained {
			step /= 2
		}
	}
	return best
}
