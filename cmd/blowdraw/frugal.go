package main

import (
	"os"
	"runtime/debug"
)

// memoryEach is the memory, in bytes, beyond which garbage is collected at once, for each
// recording that is being heard.
const memoryEach = 116 << 20

// frugal lets no more garbage gather than so many recordings at a time need, unless
// GOMEMLIMIT says otherwise: what is kept of a recording grows with its length, but not
// the garbage with it.
func frugal(recordings int) {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(int64(recordings) * memoryEach)
	}
}
