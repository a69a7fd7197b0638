#include "textflag.h"
#include "neon_arm64.h"

// The same steps as in fft_amd64.s, each rounded in the same way. A point is 64 bytes,
// four vectors: real parts of signals 0 to 3 and of 4 to 7, then imaginary parts.

// TIMES turns re, im into (tr + i ti) = (re + i im) * (w[i] + i w[i+1]); m is -w.
#define TIMES(re, im, w, m, i, tr, ti) \
	FMULE(m, i+1, im, tr) \
	FMULE(w, i, im, ti) \
	FMLAE(w, i, re, tr) \
	FMLAE(w, i+1, re, ti)

// ADD2 and SUB2 are for both vectors of a point's real or imaginary parts: n to n+1
// are left of the operator, d to d+1 are set.
#define ADD2(m, n, d) \
	FADD4(m, n, d) \
	FADD4(m+1, n+1, d+1)

#define SUB2(m, n, d) \
	FSUB4(m, n, d) \
	FSUB4(m+1, n+1, d+1)

#define TIMES2(re, im, w, m, i, tr, ti) \
	TIMES(re, im, w, m, i, tr, ti) \
	TIMES(re+1, im+1, w, m, i, tr+1, ti+1)

// func passVector(y, x *Point, tw *float32, butterflies, stride int)
// See passPlain.
TEXT ·passVector(SB), NOSPLIT, $0-40
	MOVD y+0(FP), R0
	MOVD x+8(FP), R4
	MOVD tw+16(FP), R8
	MOVD butterflies+24(FP), R9
	MOVD stride+32(FP), R10
	LSL  $6, R10, R11       // stride in bytes
	MUL  R9, R11, R12       // a quarter of x in bytes
	ADD  R11, R0, R1        // outputs 1 to 3
	ADD  R11, R1, R2
	ADD  R11, R2, R3
	ADD  R12, R4, R5        // b, c, d
	ADD  R12, R5, R6
	ADD  R12, R6, R7
	ADD  R11<<1, R11, R11   // 3 strides

factors:
	VLD1.P  16(R8), [V28.S4]
	FMOVD.P 8(R8), F29
	FNEG4(28, 30)
	FNEG4(29, 31)
	MOVD R10, R12

butterfly:
	FLDPQ   32(R4), (F2, F3)     // a
	FLDPQ.P 64(R4), (F0, F1)
	FLDPQ   32(R6), (F6, F7)     // c
	FLDPQ.P 64(R6), (F4, F5)
	FLDPQ   32(R5), (F10, F11)   // b
	FLDPQ.P 64(R5), (F8, F9)
	FLDPQ   32(R7), (F14, F15)   // d
	FLDPQ.P 64(R7), (F12, F13)
	ADD2(4, 0, 16)               // a + c
	ADD2(6, 2, 18)
	SUB2(4, 0, 0)                // a - c
	SUB2(6, 2, 2)
	ADD2(12, 8, 20)              // b + d
	ADD2(14, 10, 22)
	SUB2(12, 8, 8)               // b - d
	SUB2(14, 10, 10)

	ADD2(20, 16, 4)
	ADD2(22, 18, 6)
	FSTPQ   (F6, F7), 32(R0)
	FSTPQ.P (F4, F5), 64(R0)

	SUB2(20, 16, 16)
	SUB2(22, 18, 18)
	TIMES2(16, 18, 28, 30, 2, 4, 6)
	FSTPQ   (F6, F7), 32(R2)
	FSTPQ.P (F4, F5), 64(R2)

	ADD2(10, 0, 16)              // a - c - i(b - d)
	SUB2(8, 2, 18)
	TIMES2(16, 18, 28, 30, 0, 4, 6)
	FSTPQ   (F6, F7), 32(R1)
	FSTPQ.P (F4, F5), 64(R1)

	SUB2(10, 0, 16)              // a - c + i(b - d)
	ADD2(8, 2, 18)
	TIMES2(16, 18, 29, 31, 0, 4, 6)
	FSTPQ   (F6, F7), 32(R3)
	FSTPQ.P (F4, F5), 64(R3)

	SUBS $1, R12
	BNE  butterfly

	ADD  R11, R0
	ADD  R11, R1
	ADD  R11, R2
	ADD  R11, R3
	SUBS $1, R9
	BNE  factors
	RET

// func halvesVector(x *Point, half int)
// See halvesPlain.
TEXT ·halvesVector(SB), NOSPLIT, $0-16
	MOVD x+0(FP), R0
	MOVD half+8(FP), R2
	ADD  R2<<6, R0, R1

pair:
	FLDPQ   (R0), (F0, F1)
	FLDPQ   32(R0), (F2, F3)
	FLDPQ   (R1), (F4, F5)
	FLDPQ   32(R1), (F6, F7)
	ADD2(4, 0, 8)
	ADD2(6, 2, 10)
	SUB2(4, 0, 0)
	SUB2(6, 2, 2)
	FSTPQ   (F10, F11), 32(R0)
	FSTPQ.P (F8, F9), 64(R0)
	FSTPQ   (F2, F3), 32(R1)
	FSTPQ.P (F0, F1), 64(R1)
	SUBS    $1, R2
	BNE     pair
	RET

// SQUARE2 and SCALE2 are for both vectors of a value, n to n+1; the factor is V31[0].
#define SQUARE2(n) \
	FMUL4(n, n, n) \
	FMUL4(n+1, n+1, n+1)

#define SCALE2(n) \
	FMULE(31, 0, n, n) \
	FMULE(31, 0, n+1, n+1)

// func powersVector(dst *Real, z *Point, turns *float32, n int, scale float32)
// See powersPlain.
TEXT ·powersVector(SB), NOSPLIT, $0-36
	MOVD  dst+0(FP), R0
	MOVD  z+8(FP), R1
	MOVD  turns+16(FP), R2
	MOVD  n+24(FP), R3
	FMOVS scale+32(FP), F31
	ADD   R3<<5, R0, R4 // bin n of dst
	ADD   R3<<6, R1, R5 // the end of z
	LSR   $1, R3

	FLDPQ   32(R1), (F2, F3)
	FLDPQ.P 64(R1), (F0, F1)
	ADD2(2, 0, 4)
	SUB2(2, 0, 6)
	SQUARE2(4)
	SQUARE2(6)
	SCALE2(4)
	SCALE2(6)
	FSTPQ.P (F4, F5), 32(R0)
	FSTPQ   (F6, F7), (R4)

	FMOVS $0.25, F0
	FMULS F0, F31

bins:
	FMOVD.W 8(R2), F28
	FNEG4(28, 29)
	FLDPQ   32(R1), (F2, F3)
	FLDPQ.P 64(R1), (F0, F1)
	FLDPQ.W -64(R5), (F4, F5)
	FLDPQ   32(R5), (F6, F7)
	ADD2(4, 0, 8)             // even
	SUB2(6, 2, 10)
	ADD2(6, 2, 12)            // odd
	SUB2(0, 4, 14)
	TIMES2(12, 14, 28, 29, 0, 16, 18)
	ADD2(16, 8, 0)
	ADD2(18, 10, 2)
	SUB2(16, 8, 4)
	SUB2(18, 10, 6)
	SQUARE2(0)
	SQUARE2(4)
	VFMLA   V2.S4, V2.S4, V0.S4
	VFMLA   V3.S4, V3.S4, V1.S4
	VFMLA   V6.S4, V6.S4, V4.S4
	VFMLA   V7.S4, V7.S4, V5.S4
	SCALE2(0)
	SCALE2(4)
	FSTPQ.P (F0, F1), 32(R0)
	FSTPQ.W (F4, F5), -32(R4)
	SUBS    $1, R3
	BNE     bins
	RET

// TAPERED loads eight samples of a signal and multiplies them by the taper's.
#define TAPERED(signal, A, B, a, b) \
	FLDPQ.P 32(signal), (A, B) \
	FMUL4(30, a, a) \
	FMUL4(31, b, b)

// TRANSPOSE swaps rows and columns of the four vectors.
#define TRANSPOSE(A, B, C, D) \
	VTRN1 B.S4, A.S4, V16.S4 \
	VTRN2 B.S4, A.S4, V17.S4 \
	VTRN1 D.S4, C.S4, V18.S4 \
	VTRN2 D.S4, C.S4, V19.S4 \
	VTRN1 V18.D2, V16.D2, A.D2 \
	VTRN1 V19.D2, V17.D2, B.D2 \
	VTRN2 V18.D2, V16.D2, C.D2 \
	VTRN2 V19.D2, V17.D2, D.D2

// func windowedVector(dst *Point, x *float32, hop int, taper *float32, points int)
// See windowedPlain. Eight samples of each of eight signals are turned into four points
// of all signals at a time.
TEXT ·windowedVector(SB), NOSPLIT, $0-40
	MOVD dst+0(FP), R0
	MOVD x+8(FP), R1
	MOVD hop+16(FP), R9
	MOVD taper+24(FP), R10
	MOVD points+32(FP), R11
	ADD  R9<<2, R1, R2
	ADD  R9<<2, R2, R3
	ADD  R9<<2, R3, R4
	ADD  R9<<2, R4, R5
	ADD  R9<<2, R5, R6
	ADD  R9<<2, R6, R7
	ADD  R9<<2, R7, R8

points:
	FLDPQ.P 32(R10), (F30, F31)
	TAPERED(R1, F0, F1, 0, 1)
	TAPERED(R2, F2, F3, 2, 3)
	TAPERED(R3, F4, F5, 4, 5)
	TAPERED(R4, F6, F7, 6, 7)
	TAPERED(R5, F8, F9, 8, 9)
	TAPERED(R6, F10, F11, 10, 11)
	TAPERED(R7, F12, F13, 12, 13)
	TAPERED(R8, F14, F15, 14, 15)
	TRANSPOSE(V0, V2, V4, V6)
	TRANSPOSE(V8, V10, V12, V14)
	TRANSPOSE(V1, V3, V5, V7)
	TRANSPOSE(V9, V11, V13, V15)
	FSTPQ   (F2, F10), 32(R0)
	FSTPQ   (F4, F12), 64(R0)
	FSTPQ   (F6, F14), 96(R0)
	FSTPQ   (F1, F9), 128(R0)
	FSTPQ   (F3, F11), 160(R0)
	FSTPQ   (F5, F13), 192(R0)
	FSTPQ   (F7, F15), 224(R0)
	FSTPQ.P (F0, F8), 256(R0)
	SUBS    $4, R11
	BNE     points
	RET
