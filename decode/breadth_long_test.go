//go:build long

package decode

// thorough tests go through all that they can.
const thorough = true
