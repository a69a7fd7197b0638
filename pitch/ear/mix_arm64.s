#include "textflag.h"
#include "neon_arm64.h"

// The same sums in the same order as in mix_amd64.s. An output's 24 steps are the six
// vectors from a on; they begin R6 bytes into its row.

// START sets all steps to element o of V30.
#define START(o, a) \
	DUPE(30, o, a) \
	DUPE(30, o, a+1) \
	DUPE(30, o, a+2) \
	DUPE(30, o, a+3) \
	DUPE(30, o, a+4) \
	DUPE(30, o, a+5)

// LOAD reads 24 steps into V24 to V29.
#define LOAD(row) \
	FLDPQ (row), (F24, F25) \
	FLDPQ 32(row), (F26, F27) \
	FLDPQ 64(row), (F28, F29)

// PLUS adds V24 to V29.
#define PLUS(a) \
	FADD4(24, a, a) \
	FADD4(25, a+1, a+1) \
	FADD4(26, a+2, a+2) \
	FADD4(27, a+3, a+3) \
	FADD4(28, a+4, a+4) \
	FADD4(29, a+5, a+5)

#define SKIP(o, a) \
	MOVD (o*8)(R1), R8 \
	ADD  R6, R8 \
	LOAD(R8) \
	PLUS(a)

// TAP adds V24 to V29 times element o of V30.
#define TAP(o, a) \
	FMLAE(30, o, 24, a) \
	FMLAE(30, o, 25, a+1) \
	FMLAE(30, o, 26, a+2) \
	FMLAE(30, o, 27, a+3) \
	FMLAE(30, o, 28, a+4) \
	FMLAE(30, o, 29, a+5)

#define ATLEAST(a) \
	FMAX4(31, a, a) \
	FMAX4(31, a+1, a+1) \
	FMAX4(31, a+2, a+2) \
	FMAX4(31, a+3, a+3) \
	FMAX4(31, a+4, a+4) \
	FMAX4(31, a+5, a+5)

#define STORE(o, A, B, C, D, E, F) \
	MOVD  (o*8)(R0), R8 \
	ADD   R6, R8 \
	FSTPQ (A, B), (R8) \
	FSTPQ (C, D), 32(R8) \
	FSTPQ (E, F), 64(R8)

// func mix4Vector(dst, skip *[4]*float32, src **float32, w, bias *float32, taps, lo, hi int, low float32)
TEXT ·mix4Vector(SB), NOSPLIT, $0-68
	MOVD  dst+0(FP), R0
	MOVD  skip+8(FP), R1
	MOVD  src+16(FP), R2
	MOVD  w+24(FP), R3
	MOVD  bias+32(FP), R4
	MOVD  taps+40(FP), R5
	MOVD  lo+48(FP), R6
	MOVD  hi+56(FP), R7
	FMOVS low+64(FP), F31
	VDUP  V31.S[0], V31.S4
	LSL   $2, R6 // in bytes
	LSL   $2, R7

columns:
	CMP  R7, R6
	BGE  done
	VLD1 (R4), [V30.S4]
	START(0, 0)
	START(1, 6)
	START(2, 12)
	START(3, 18)
	MOVD (R1), R8
	CBZ  R8, sum
	SKIP(0, 0)
	SKIP(1, 6)
	SKIP(2, 12)
	SKIP(3, 18)

sum:
	MOVD R2, R9
	MOVD R3, R10
	MOVD R5, R11

tap:
	MOVD.P 8(R9), R8
	VLD1.P 16(R10), [V30.S4]
	ADD    R6, R8
	LOAD(R8)
	TAP(0, 0)
	TAP(1, 6)
	TAP(2, 12)
	TAP(3, 18)
	SUBS   $1, R11
	BNE    tap

	ATLEAST(0)
	STORE(0, F0, F1, F2, F3, F4, F5)
	ATLEAST(6)
	STORE(1, F6, F7, F8, F9, F10, F11)
	ATLEAST(12)
	STORE(2, F12, F13, F14, F15, F16, F17)
	ATLEAST(18)
	STORE(3, F18, F19, F20, F21, F22, F23)
	ADD $96, R6
	B   columns

done:
	RET

// func mix1Vector(dst, skip, src, w *float32, apart, taps, lo, hi int, bias, low float32)
TEXT ·mix1Vector(SB), NOSPLIT, $0-72
	MOVD  dst+0(FP), R0
	MOVD  skip+8(FP), R1
	MOVD  src+16(FP), R2
	MOVD  w+24(FP), R3
	MOVD  apart+32(FP), R4
	MOVD  taps+40(FP), R5
	MOVD  lo+48(FP), R6
	MOVD  hi+56(FP), R7
	FMOVS low+68(FP), F31
	VDUP  V31.S[0], V31.S4
	LSL   $2, R4           // in bytes
	LSL   $2, R6
	LSL   $2, R7

columns:
	CMP  R7, R6
	BGE  done
	FMOVS bias+64(FP), F30
	START(0, 0)
	CBZ  R1, sum
	ADD  R6, R1, R8
	LOAD(R8)
	PLUS(0)

sum:
	ADD  R6, R2, R8
	MOVD R3, R10
	MOVD R5, R11

tap:
	FMOVS.P 4(R10), F30
	LOAD(R8)
	ADD     R4, R8
	TAP(0, 0)
	SUBS    $1, R11
	BNE     tap

	ADD R6, R0, R8
	ATLEAST(0)
	FSTPQ (F0, F1), (R8)
	FSTPQ (F2, F3), 32(R8)
	FSTPQ (F4, F5), 64(R8)
	ADD $96, R6
	B   columns

done:
	RET
