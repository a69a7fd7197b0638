#include "textflag.h"
#include "neon_arm64.h"

// SINGLES sets each value of a vector to the float with these bits.
#define SINGLES(bits, V) \
	MOVD $bits, R3 \
	VDUP R3, V.S4

// SCALED takes the 1 + power/floor of four frames in x to the network's scale, in y; e, q
// and s are for work.
#define SCALED(x, e, q, s, y) \
	FMAX4(31, x, x) \
	SUB4(30, x, e) \
	SSHR4(23, e, e)  \ // e
	SHL4(23, e, q) \
	SUB4(q, x, x)    \ // m
	FSUB4(31, x, s) \
	FADD4(31, x, q) \
	FDIV4(q, s, s)   \ // s = (m-1)/(m+1)
	FMUL4(s, s, q)   \ // q
	MOV4(27, y) \
	FMLA4(26, q, y) \
	MOV4(28, x) \
	FMLA4(y, q, x) \
	MOV4(29, y) \
	FMLA4(x, q, y) \
	FMUL4(s, y, y) \
	SCVTF4(e, e) \
	FMLA4(e, 25, y)

// func scaleVector(dst *[batch]float32, src *totals, n int)
// See scaled and log2, here in 32 bits; the steps are those of scale_amd64.s.
TEXT ·scaleVector(SB), NOSPLIT, $0-24
	MOVD dst+0(FP), R0
	MOVD src+8(FP), R1
	MOVD n+16(FP), R2
	SINGLES(0x3f800000, V31) // 1
	SINGLES(0x3f3504f3, V30) // sqrt(1/2)
	SINGLES(0x3e5e5bd9, V29) // a = 2/ln(2) * log10(2)/4
	SINGLES(0x3d943d3b, V28) // a/3
	SINGLES(0x3d31e314, V27) // a/5
	SINGLES(0x3cfe1fd3, V26) // a/7
	SINGLES(0x3d9a209b, V25) // log10(2)/4
	FMOVD $1.0e9, F24        // 1/floor
	VDUP  V24.D[0], V24.D2

bin:
	FLDPQ   32(R1), (F2, F3)
	FLDPQ.P 64(R1), (F0, F1)
	FMUL2(24, 0, 0)
	FMUL2(24, 1, 1)
	FMUL2(24, 2, 2)
	FMUL2(24, 3, 3)
	FCVTNLOW(0, 4)
	FCVTNHIGH(1, 4)
	FCVTNLOW(2, 5)
	FCVTNHIGH(3, 5)
	FADD4(31, 4, 4)
	FADD4(31, 5, 5)
	SCALED(4, 6, 8, 10, 12)
	SCALED(5, 7, 9, 11, 13)
	FSTPQ.P (F12, F13), 32(R0)
	SUBS    $1, R2
	BNE     bin
	RET
