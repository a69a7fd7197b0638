//go:build long

package evidence_test

// thorough tests go through all that they can.
const thorough = true
