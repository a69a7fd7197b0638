//go:build long

package tuning

// thorough tests go through all that they can.
const thorough = true
