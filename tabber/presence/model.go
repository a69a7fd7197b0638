package presence

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"

	"blowdraw/decode/logistic"
	"blowdraw/pitch"
)

// Chosen on songs of TimGM6mb's band of seeds 6001 and 6002, harpFirst and harpHalf with
// seeds 99 and 1001 and the bench in view, too. Of events:
const (
	most      = 6.0  // log odds that one event can give
	full      = 0.25 // seconds from which on an event counts in full
	switching = 5.0  // log odds against a change of player from one event to the next,
	apart     = 1.5  // less by a factor of e for so many seconds between them
	harpFirst = 1.5  // log odds in favour of the harp: a note lost costs more than one too many;
	harpHalf  = 0.4  // the same in how sure its notes are, if a harp plays at all
	mixed     = 4.0  // log odds against a recording in which a harp plays and others play like one
)

// Of blocks:
const (
	trusted        = 0.5 // exponent of a block's probability: blocks overlap
	voiceSwitching = 3.0 // log odds against a change from one block to the next
)

//go:embed harp.json
var harpFile []byte

//go:embed voice.json
var voiceFile []byte

// harpModel and voiceModel tell events of a harp and blocks of a voice from the rest.
// They weigh values of the ear's last layer, which mean something else in other weights:
// when the ear's weights change they have to be fitted again (blowdraw-lab fit harp,
// blowdraw-lab fit voice). They are fitted to songs with bands and soloists of several
// sound banks, none of them TimGM6mb, to harps with recorded bands (the harp's model alone),
// and to harps alone, each heard up to 25 cents off.
var (
	harpModel  = sync.OnceValue(func() logistic.Model { return logistic.MustRead(harpFile, EventCueNames()) })
	voiceModel = sync.OnceValue(func() logistic.Model { return logistic.MustRead(voiceFile, BlockCueNames()) })
)

// traitNames are those of an event's traits, in order.
var traitNames = [traitCount]string{
	"sure", "sounds", "breathed", "reeds", "muddle", "stands", "swells", "offGrid", "wanders", "slides", "vowels",
	"lasts", "bent",
}

// EventCueNames names what [EventCues] gives.
func EventCueNames() []string {
	out := slices.Clone(traitNames[:])
	for i, a := range traitNames {
		for _, b := range traitNames[i:] {
			out = append(out, a+"*"+b)
		}
	}
	for _, kind := range []string{"mean", "spread"} {
		for i := range pitch.WholeWidth {
			out = append(out, fmt.Sprintf("%s %d", kind, i))
		}
	}
	return out
}

// BlockCueNames names the cues of a block.
func BlockCueNames() []string {
	out := slices.Clone(traitNames[:])
	for _, t := range traitNames {
		out = append(out, "mean "+t)
	}
	return append(out, "filled", "surest", "breath", "doubtful", "above", "pulsing", "gliding", "colour", "flat")
}
