//go:build !long

package evidence_test

// thorough tests go through all that they can; others through a part that takes seconds.
const thorough = false
