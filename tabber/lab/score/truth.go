package score

import (
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// ReadTruth is [truth.ReadDocument].
func ReadTruth(path string) (d tab.Document, tier string, err error) { return truth.ReadDocument(path) }
