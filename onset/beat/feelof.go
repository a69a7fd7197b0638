package beat

// FeelOf tells how beats are divided from when notes begin, both in seconds, and the swing
// ratio, as [Find] tells it of what it hears: Straight, Swing or Triplet, empty where there
// are too few off-beats.
func FeelOf(starts, beats []float64) (feeling string, ratio float64) {
	var begins []begin
	for _, t := range starts {
		begins = append(begins, begin{t, 1})
	}
	return feel(begins, beats)
}
