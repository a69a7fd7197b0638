package presence

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"testing"
)

// fittedTo is the checksum of the ear's weights for which the models hold: they weigh
// values of its last layer, which mean something else in other weights.
const fittedTo = "5537281017fec5d45f3a3bccb664716d0705201a650ff401c6f9f5af415c433b"

func TestFittedToTheseWeights(t *testing.T) {
	data, err := os.ReadFile("../../pitch/ear/weights.bin")
	if err != nil {
		t.Fatal(err)
	}
	if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != fittedTo {
		t.Error("the ear's weights have changed: fit again: go run ./cmd/blowdraw-lab fit harp, then voice")
	}
}
