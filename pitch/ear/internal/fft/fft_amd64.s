#include "textflag.h"

// TIMES turns re, im into (re + i im) * (wr + i wi), using the registers tr, ti.
#define TIMES(re, im, wr, wi, tr, ti) \
	VMULPS      im, wi, tr \
	VMULPS      im, wr, ti \
	VFMSUB231PS re, wr, tr \
	VFMADD231PS re, wi, ti

// func passAVX2(y, x *Point, tw *float32, butterflies, stride int)
// See passPlain. A point is 64 bytes: eight real, then eight imaginary parts.
TEXT ·passAVX2(SB), NOSPLIT, $0-40
	MOVQ  y+0(FP), DI
	MOVQ  x+8(FP), SI
	MOVQ  tw+16(FP), DX
	MOVQ  butterflies+24(FP), CX
	MOVQ  stride+32(FP), R8
	SHLQ  $6, R8            // stride in bytes
	MOVQ  CX, R9
	IMULQ R8, R9            // a quarter of x in bytes
	LEAQ  (R8)(R8*2), R10   // 3 strides
	LEAQ  (R9)(R9*2), R11   // 3 quarters

factors:
	VBROADCASTSS 0(DX), Y10
	VBROADCASTSS 4(DX), Y11
	VBROADCASTSS 8(DX), Y12
	VBROADCASTSS 12(DX), Y13
	VBROADCASTSS 16(DX), Y14
	VBROADCASTSS 20(DX), Y15
	ADDQ         $24, DX
	MOVQ         R8, BX

butterfly:
	VMOVUPS (SI), Y8                 // a
	VMOVUPS 32(SI), Y9
	VADDPS  (SI)(R9*2), Y8, Y0       // a + c
	VADDPS  32(SI)(R9*2), Y9, Y1
	VSUBPS  (SI)(R9*2), Y8, Y2       // a - c
	VSUBPS  32(SI)(R9*2), Y9, Y3
	VMOVUPS (SI)(R9*1), Y8           // b
	VMOVUPS 32(SI)(R9*1), Y9
	VADDPS  (SI)(R11*1), Y8, Y4      // b + d
	VADDPS  32(SI)(R11*1), Y9, Y5
	VSUBPS  (SI)(R11*1), Y8, Y6      // b - d
	VSUBPS  32(SI)(R11*1), Y9, Y7

	VADDPS  Y4, Y0, Y8
	VADDPS  Y5, Y1, Y9
	VMOVUPS Y8, (DI)
	VMOVUPS Y9, 32(DI)

	VSUBPS  Y4, Y0, Y0
	VSUBPS  Y5, Y1, Y1
	TIMES(Y0, Y1, Y12, Y13, Y8, Y9)
	VMOVUPS Y8, (DI)(R8*2)
	VMOVUPS Y9, 32(DI)(R8*2)

	VADDPS  Y7, Y2, Y0               // a - c - i(b - d)
	VSUBPS  Y6, Y3, Y1
	TIMES(Y0, Y1, Y10, Y11, Y8, Y9)
	VMOVUPS Y8, (DI)(R8*1)
	VMOVUPS Y9, 32(DI)(R8*1)

	VSUBPS  Y7, Y2, Y0               // a - c + i(b - d)
	VADDPS  Y6, Y3, Y1
	TIMES(Y0, Y1, Y14, Y15, Y8, Y9)
	VMOVUPS Y8, (DI)(R10*1)
	VMOVUPS Y9, 32(DI)(R10*1)

	ADDQ $64, SI
	ADDQ $64, DI
	SUBQ $64, BX
	JNE  butterfly

	ADDQ R10, DI
	DECQ CX
	JNE  factors
	VZEROUPPER
	RET
