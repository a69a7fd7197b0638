//go:build long

package tabber

// thorough tests go through all that they can.
const thorough = true
