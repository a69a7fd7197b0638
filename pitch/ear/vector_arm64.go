package ear

// vector is whether this processor runs the vector code: NEON is part of arm64.
const vector = true
