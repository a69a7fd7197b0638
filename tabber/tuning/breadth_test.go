//go:build !long

package tuning

// thorough tests go through all that they can; others through a part that takes seconds.
const thorough = false
