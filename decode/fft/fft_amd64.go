package fft

import "golang.org/x/sys/cpu"

// vector is whether this processor runs the vector code.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA
