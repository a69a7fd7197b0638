#include "textflag.h"

// TIMES turns re, im into (re + i im) * (wr + i wi), using the registers tr, ti.
#define TIMES(re, im, wr, wi, tr, ti) \
	VMULPS      im, wi, tr \
	VMULPS      im, wr, ti \
	VFMSUB231PS re, wr, tr \
	VFMADD231PS re, wi, ti

// func passVector(y, x *Point, tw *float32, butterflies, stride int)
// See passPlain. A point is 64 bytes: eight real, then eight imaginary parts.
TEXT ·passVector(SB), NOSPLIT, $0-40
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

// func halvesVector(x *Point, half int)
// See halvesPlain.
TEXT ·halvesVector(SB), NOSPLIT, $0-16
	MOVQ x+0(FP), SI
	MOVQ half+8(FP), CX
	MOVQ CX, R8
	SHLQ $6, R8 // half in bytes

pair:
	VMOVUPS (SI), Y0
	VMOVUPS 32(SI), Y1
	VMOVUPS (SI)(R8*1), Y2
	VMOVUPS 32(SI)(R8*1), Y3
	VADDPS  Y2, Y0, Y4
	VADDPS  Y3, Y1, Y5
	VSUBPS  Y2, Y0, Y0
	VSUBPS  Y3, Y1, Y1
	VMOVUPS Y4, (SI)
	VMOVUPS Y5, 32(SI)
	VMOVUPS Y0, (SI)(R8*1)
	VMOVUPS Y1, 32(SI)(R8*1)
	ADDQ    $64, SI
	DECQ    CX
	JNE     pair
	VZEROUPPER
	RET

// func powersVector(dst *Real, z *Point, turns *float32, n int, scale float32)
// See powersPlain.
TEXT ·powersVector(SB), NOSPLIT, $0-36
	MOVQ         dst+0(FP), DI
	MOVQ         z+8(FP), SI
	MOVQ         turns+16(FP), DX
	MOVQ         n+24(FP), CX
	VBROADCASTSS scale+32(FP), Y15
	MOVQ         CX, R9
	SHLQ         $5, R9
	ADDQ         DI, R9 // bin n of dst
	MOVQ         CX, R8
	SHLQ         $6, R8
	ADDQ         SI, R8 // the end of z
	SHRQ         $1, CX

	VMOVUPS (SI), Y0
	VMOVUPS 32(SI), Y1
	VADDPS  Y1, Y0, Y2
	VSUBPS  Y1, Y0, Y3
	VMULPS  Y2, Y2, Y2
	VMULPS  Y3, Y3, Y3
	VMULPS  Y15, Y2, Y2
	VMULPS  Y15, Y3, Y3
	VMOVUPS Y2, (DI)
	VMOVUPS Y3, (R9)

	MOVL         $0x3e800000, AX // 1/4
	MOVQ         AX, X14
	VBROADCASTSS X14, Y14
	VMULPS       Y14, Y15, Y15

bins:
	ADDQ         $64, SI
	SUBQ         $64, R8
	ADDQ         $32, DI
	SUBQ         $32, R9
	ADDQ         $8, DX
	VBROADCASTSS (DX), Y10
	VBROADCASTSS 4(DX), Y11
	VMOVUPS      (SI), Y0
	VMOVUPS      32(SI), Y1
	VMOVUPS      (R8), Y2
	VMOVUPS      32(R8), Y3
	VADDPS       Y2, Y0, Y4   // even
	VSUBPS       Y3, Y1, Y5
	VADDPS       Y3, Y1, Y6   // odd
	VSUBPS       Y0, Y2, Y7
	TIMES(Y6, Y7, Y10, Y11, Y8, Y9)
	VADDPS       Y8, Y4, Y0
	VADDPS       Y9, Y5, Y1
	VSUBPS       Y8, Y4, Y2
	VSUBPS       Y9, Y5, Y3
	VMULPS       Y0, Y0, Y0
	VMULPS       Y2, Y2, Y2
	VFMADD231PS  Y1, Y1, Y0
	VFMADD231PS  Y3, Y3, Y2
	VMULPS       Y15, Y0, Y0
	VMULPS       Y15, Y2, Y2
	VMOVUPS      Y0, (DI)
	VMOVUPS      Y2, (R9)
	DECQ         CX
	JNE          bins
	VZEROUPPER
	RET

// func windowedVector(dst *Point, x *float32, hop int, taper *float32, points int)
// See windowedPlain. Eight samples of each of eight signals are turned into four points
// of all signals at a time: an 8 x 8 transposition.
TEXT ·windowedVector(SB), NOSPLIT, $0-40
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ hop+16(FP), R8
	MOVQ taper+24(FP), DX
	MOVQ points+32(FP), CX
	SHLQ $2, R8            // in bytes
	LEAQ (R8)(R8*2), R9    // 3 hops
	LEAQ (SI)(R8*4), R10   // signals 4 to 7

points:
	VMOVUPS   (DX), Y15
	VMULPS    (SI), Y15, Y0
	VMULPS    (SI)(R8*1), Y15, Y1
	VMULPS    (SI)(R8*2), Y15, Y2
	VMULPS    (SI)(R9*1), Y15, Y3
	VMULPS    (R10), Y15, Y4
	VMULPS    (R10)(R8*1), Y15, Y5
	VMULPS    (R10)(R8*2), Y15, Y6
	VMULPS    (R10)(R9*1), Y15, Y7
	VUNPCKLPS Y1, Y0, Y8
	VUNPCKHPS Y1, Y0, Y9
	VUNPCKLPS Y3, Y2, Y10
	VUNPCKHPS Y3, Y2, Y11
	VUNPCKLPS Y5, Y4, Y12
	VUNPCKHPS Y5, Y4, Y13
	VUNPCKLPS Y7, Y6, Y14
	VUNPCKHPS Y7, Y6, Y15
	VSHUFPS   $0x44, Y10, Y8, Y0
	VSHUFPS   $0xEE, Y10, Y8, Y1
	VSHUFPS   $0x44, Y11, Y9, Y2
	VSHUFPS   $0xEE, Y11, Y9, Y3
	VSHUFPS   $0x44, Y14, Y12, Y4
	VSHUFPS   $0xEE, Y14, Y12, Y5
	VSHUFPS   $0x44, Y15, Y13, Y6
	VSHUFPS   $0xEE, Y15, Y13, Y7
	VPERM2F128 $0x20, Y4, Y0, Y8
	VPERM2F128 $0x20, Y5, Y1, Y9
	VPERM2F128 $0x20, Y6, Y2, Y10
	VPERM2F128 $0x20, Y7, Y3, Y11
	VPERM2F128 $0x31, Y4, Y0, Y12
	VPERM2F128 $0x31, Y5, Y1, Y13
	VPERM2F128 $0x31, Y6, Y2, Y14
	VPERM2F128 $0x31, Y7, Y3, Y15
	VMOVUPS   Y8, (DI)
	VMOVUPS   Y9, 32(DI)
	VMOVUPS   Y10, 64(DI)
	VMOVUPS   Y11, 96(DI)
	VMOVUPS   Y12, 128(DI)
	VMOVUPS   Y13, 160(DI)
	VMOVUPS   Y14, 192(DI)
	VMOVUPS   Y15, 224(DI)
	ADDQ      $32, SI
	ADDQ      $32, R10
	ADDQ      $32, DX
	ADDQ      $256, DI
	SUBQ      $4, CX
	JNE       points
	VZEROUPPER
	RET
