package measure

import (
	"os"
	"syscall"
)

// peak is the most memory in bytes that a program that has ended had resident, by
// getrusage(2), which counts in kilobytes here.
func peak(s *os.ProcessState) int64 {
	if usage, ok := s.SysUsage().(*syscall.Rusage); ok {
		return usage.Maxrss * 1024
	}
	return 0
}
