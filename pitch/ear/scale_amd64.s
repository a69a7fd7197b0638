#include "textflag.h"

#define SINGLE(name, bits) \
	DATA name<>+0(SB)/4, $bits; \
	GLOBL name<>(SB), RODATA|NOPTR, $4

DATA perFloor<>+0(SB)/8, $1.0e9
GLOBL perFloor<>(SB), RODATA|NOPTR, $8
SINGLE(unit, 0x3f800000)     // 1
SINGLE(rootHalf, 0x3f3504f3) // sqrt(1/2)
SINGLE(first, 0x3e5e5bd9)    // a = 2/ln(2) * log10(2)/4
SINGLE(third, 0x3d943d3b)    // a/3
SINGLE(fifth, 0x3d31e314)    // a/5
SINGLE(seventh, 0x3cfe1fd3)  // a/7
SINGLE(octave, 0x3d9a209b)   // log10(2)/4

// func scaleVector(dst *[batch]float32, src *totals, n int)
// See scaled and log2, here in 32 bits.
TEXT ·scaleVector(SB), NOSPLIT, $0-24
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         n+16(FP), CX
	VBROADCASTSD perFloor<>(SB), Y15
	VBROADCASTSS unit<>(SB), Y14
	VBROADCASTSS rootHalf<>(SB), Y13
	VBROADCASTSS first<>(SB), Y12
	VBROADCASTSS third<>(SB), Y11
	VBROADCASTSS fifth<>(SB), Y10
	VBROADCASTSS seventh<>(SB), Y9
	VBROADCASTSS octave<>(SB), Y8

bin:
	VMULPD       (SI), Y15, Y0
	VMULPD       32(SI), Y15, Y1
	VCVTPD2PSY   Y0, X0
	VCVTPD2PSY   Y1, X1
	VINSERTF128  $1, X1, Y0, Y0
	VADDPS       Y14, Y0, Y0     // x
	VMAXPS       Y14, Y0, Y0
	VPSUBD       Y13, Y0, Y1
	VPSRAD       $23, Y1, Y1     // e
	VPSLLD       $23, Y1, Y2
	VPSUBD       Y2, Y0, Y0      // m
	VSUBPS       Y14, Y0, Y2
	VADDPS       Y14, Y0, Y3
	VDIVPS       Y3, Y2, Y2      // s = (m-1)/(m+1)
	VMULPS       Y2, Y2, Y3      // q
	VMOVAPS      Y9, Y4
	VFMADD213PS  Y10, Y3, Y4
	VFMADD213PS  Y11, Y3, Y4
	VFMADD213PS  Y12, Y3, Y4
	VMULPS       Y2, Y4, Y4
	VCVTDQ2PS    Y1, Y1
	VFMADD231PS  Y1, Y8, Y4
	VMOVUPS      Y4, (DI)
	ADDQ         $64, SI
	ADDQ         $32, DI
	DECQ         CX
	JNE          bin
	VZEROUPPER
	RET
