//go:build long

package contour

// thorough tests go through all that they can.
const thorough = true
