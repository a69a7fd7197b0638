#include "textflag.h"
#include "neon_arm64.h"

// The same steps as in winograd_amd64.s, each rounded in the same way.

// SPREAD mixes four columns of x0 to x5 and leaves them in x0, x3, b, s, t and x5; V30[0]
// is 4, V31[0] is 5.
#define SPREAD(x0, x1, x2, x3, x4, x5, a, b, s, t) \
	FMULE(30, 0, x0, x0) \
	FMLSE(31, 0, x2, x0) \
	FADD4(x4, x0, x0)    \ // 4 x0 - 5 x2 + x4
	FMLAE(30, 0, x1, x5) \
	FMLSE(31, 0, x3, x5) \ // 4 x1 - 5 x3 + x5
	MOV4(x4, a) \
	FMLSE(30, 0, x2, a)  \ // a = x4 - 4 x2
	MOV4(x3, b) \
	FMLSE(30, 0, x1, b)  \ // b = x3 - 4 x1
	FSUB4(x2, x4, x4)    \ // c = x4 - x2
	FSUB4(x1, x3, x3) \
	FADD4(x3, x3, x3)    \ // d = 2 (x3 - x1)
	FADD4(x3, x4, s)     \ // c + d
	FSUB4(x3, x4, t)     \ // c - d
	FADD4(b, a, x3)      \ // a + b
	FSUB4(b, a, b)       // a - b

// func spreadVector(dst *float32, apart int, src *[tileIn]*float32, n int)
// Eight columns at a time; some of the last eight may be done twice.
TEXT ·spreadVector(SB), NOSPLIT, $0-32
	MOVD  dst+0(FP), R0
	MOVD  apart+8(FP), R6
	MOVD  src+16(FP), R7
	MOVD  n+24(FP), R8
	LDP   0(R7), (R9, R10)
	LDP   16(R7), (R11, R12)
	LDP   32(R7), (R13, R14)
	ADD   R6<<2, R0, R1
	ADD   R6<<2, R1, R2
	ADD   R6<<2, R2, R3
	ADD   R6<<2, R3, R4
	ADD   R6<<2, R4, R5
	FMOVS $4.0, F30
	FMOVS $5.0, F31
	SUB   $8, R8 // columns left

columns:
	FLDPQ.P 32(R9), (F0, F1)
	FLDPQ.P 32(R10), (F2, F3)
	FLDPQ.P 32(R11), (F4, F5)
	FLDPQ.P 32(R12), (F6, F7)
	FLDPQ.P 32(R13), (F8, F9)
	FLDPQ.P 32(R14), (F10, F11)
	SPREAD(0, 2, 4, 6, 8, 10, 12, 14, 16, 18)
	SPREAD(1, 3, 5, 7, 9, 11, 13, 15, 17, 19)
	FSTPQ.P (F0, F1), 32(R0)
	FSTPQ.P (F6, F7), 32(R1)
	FSTPQ.P (F14, F15), 32(R2)
	FSTPQ.P (F16, F17), 32(R3)
	FSTPQ.P (F18, F19), 32(R4)
	FSTPQ.P (F10, F11), 32(R5)
	CBZ     R8, done
	SUBS    $8, R8
	BGE     columns
	LSL     $2, R8       // back, in bytes below 0
	ADD     R8, R0
	ADD     R8, R1
	ADD     R8, R2
	ADD     R8, R3
	ADD     R8, R4
	ADD     R8, R5
	ADD     R8, R9
	ADD     R8, R10
	ADD     R8, R11
	ADD     R8, R12
	ADD     R8, R13
	ADD     R8, R14
	MOVD    ZR, R8
	B       columns

done:
	RET

// GATHER leaves what four columns of s0 to s5 make for the rows in s0, s2, s1 and odd;
// V28[0] is 2, V29[0] is 4, V30[0] is 8.
#define GATHER(s0, s1, s2, s3, s4, s5, wide, odd) \
	FADD4(s4, s3, wide) \
	FSUB4(s4, s3, s4)   \ // turn
	FSUB4(s2, s1, odd) \
	FADD4(s2, s1, s1)   \ // even
	FADD4(s1, s0, s0) \
	FADD4(wide, s0, s0) \
	MOV4(odd, s2) \
	FMLAE(28, 0, s4, s2) \
	FMLAE(29, 0, wide, s1) \
	FMLAE(30, 0, s4, odd) \
	FADD4(s5, odd, odd)

// ROW stores a row from the sums a and b; V31 is the bias, V27 is 0.
#define ROW(skip, dst, a, b) \
	FLDPQ.P 32(skip), (F24, F25) \
	FADD4(31, 24, 24) \
	FADD4(31, 25, 25) \
	FADD4(a, 24, 24) \
	FADD4(b, 25, 25) \
	FMAX4(27, 24, 24) \
	FMAX4(27, 25, 25) \
	FSTPQ.P (F24, F25), 32(dst)

// func gatherVector(dst, skip *[tileRows]*float32, sums *float32, apart int, bias float32)
TEXT ·gatherVector(SB), NOSPLIT, $0-36
	MOVD  dst+0(FP), R6
	MOVD  skip+8(FP), R7
	MOVD  sums+16(FP), R0
	MOVD  apart+24(FP), R8
	FMOVS bias+32(FP), F31
	VDUP  V31.S[0], V31.S4
	VEOR  V27.B16, V27.B16, V27.B16
	FMOVS $2.0, F28
	FMOVS $4.0, F29
	FMOVS $8.0, F30
	ADD   R8<<2, R0, R1
	ADD   R8<<2, R1, R2
	ADD   R8<<2, R2, R3
	ADD   R8<<2, R3, R4
	ADD   R8<<2, R4, R5
	LDP   0(R6), (R10, R11)
	LDP   16(R6), (R12, R13)
	LDP   0(R7), (R14, R15)
	LDP   16(R7), (R16, R17)
	MOVD  $3, R9

columns:
	FLDPQ.P 32(R0), (F0, F1)
	FLDPQ.P 32(R1), (F2, F3)
	FLDPQ.P 32(R2), (F4, F5)
	FLDPQ.P 32(R3), (F6, F7)
	FLDPQ.P 32(R4), (F8, F9)
	FLDPQ.P 32(R5), (F10, F11)
	GATHER(0, 2, 4, 6, 8, 10, 12, 14)
	GATHER(1, 3, 5, 7, 9, 11, 13, 15)
	ROW(R14, R10, 0, 1)
	ROW(R15, R11, 4, 5)
	ROW(R16, R12, 2, 3)
	ROW(R17, R13, 14, 15)
	SUBS $1, R9
	BNE  columns
	RET
