#include "textflag.h"

// Three vectors of eight steps of output o are A, B, C. Y12, Y13, Y14 hold
// a source's steps, Y15 a weight.

#define START(o, A, B, C) \
	VBROADCASTSS (o*4)(R11), A \
	VMOVAPS      A, B \
	VMOVAPS      A, C

#define SKIP(o, A, B, C) \
	MOVQ   (o*8)(R10), R8 \
	VADDPS (R8)(AX*4), A, A \
	VADDPS 32(R8)(AX*4), B, B \
	VADDPS 64(R8)(AX*4), C, C

#define TAP(o, A, B, C) \
	VBROADCASTSS (o*4)(R9), Y15 \
	VFMADD231PS  Y12, Y15, A \
	VFMADD231PS  Y13, Y15, B \
	VFMADD231PS  Y14, Y15, C

#define STORE(o, A, B, C) \
	MOVQ    (o*8)(DI), R8 \
	VMAXPS  Y15, A, A \
	VMAXPS  Y15, B, B \
	VMAXPS  Y15, C, C \
	VMOVUPS A, (R8)(AX*4) \
	VMOVUPS B, 32(R8)(AX*4) \
	VMOVUPS C, 64(R8)(AX*4)

// func mix4Vector(dst, skip *[4]*float32, src **float32, w, bias *float32, taps, lo, hi int, low float32)
TEXT ·mix4Vector(SB), NOSPLIT, $0-68
	MOVQ dst+0(FP), DI
	MOVQ skip+8(FP), R10
	MOVQ src+16(FP), SI
	MOVQ w+24(FP), DX
	MOVQ bias+32(FP), R11
	MOVQ taps+40(FP), CX
	MOVQ lo+48(FP), AX
	MOVQ hi+56(FP), R13

columns:
	CMPQ AX, R13
	JGE  done
	START(0, Y0, Y1, Y2)
	START(1, Y3, Y4, Y5)
	START(2, Y6, Y7, Y8)
	START(3, Y9, Y10, Y11)
	CMPQ (R10), $0
	JE   sum
	SKIP(0, Y0, Y1, Y2)
	SKIP(1, Y3, Y4, Y5)
	SKIP(2, Y6, Y7, Y8)
	SKIP(3, Y9, Y10, Y11)

sum:
	MOVQ DX, R9
	XORQ BX, BX

tap:
	MOVQ    (SI)(BX*8), R8
	VMOVUPS (R8)(AX*4), Y12
	VMOVUPS 32(R8)(AX*4), Y13
	VMOVUPS 64(R8)(AX*4), Y14
	TAP(0, Y0, Y1, Y2)
	TAP(1, Y3, Y4, Y5)
	TAP(2, Y6, Y7, Y8)
	TAP(3, Y9, Y10, Y11)
	ADDQ    $16, R9
	INCQ    BX
	CMPQ    BX, CX
	JLT     tap

	VBROADCASTSS low+64(FP), Y15
	STORE(0, Y0, Y1, Y2)
	STORE(1, Y3, Y4, Y5)
	STORE(2, Y6, Y7, Y8)
	STORE(3, Y9, Y10, Y11)
	ADDQ $24, AX
	JMP  columns

done:
	VZEROUPPER
	RET

// func mix1Vector(dst, skip, src, w *float32, apart, taps, lo, hi int, bias, low float32)
TEXT ·mix1Vector(SB), NOSPLIT, $0-72
	MOVQ dst+0(FP), DI
	MOVQ skip+8(FP), R10
	MOVQ src+16(FP), SI
	MOVQ w+24(FP), DX
	MOVQ apart+32(FP), R9
	MOVQ taps+40(FP), CX
	MOVQ lo+48(FP), AX
	MOVQ hi+56(FP), R13
	SHLQ $2, R9 // in bytes
	VBROADCASTSS bias+64(FP), Y13
	VBROADCASTSS low+68(FP), Y14

columns:
	CMPQ    AX, R13
	JGE     done
	VMOVAPS Y13, Y0
	VMOVAPS Y13, Y1
	VMOVAPS Y13, Y2
	TESTQ   R10, R10
	JE      sum
	VADDPS  (R10)(AX*4), Y0, Y0
	VADDPS  32(R10)(AX*4), Y1, Y1
	VADDPS  64(R10)(AX*4), Y2, Y2

sum:
	XORQ BX, BX
	MOVQ SI, R8

tap:
	VBROADCASTSS (DX)(BX*4), Y15
	VFMADD231PS  (R8)(AX*4), Y15, Y0
	VFMADD231PS  32(R8)(AX*4), Y15, Y1
	VFMADD231PS  64(R8)(AX*4), Y15, Y2
	ADDQ         R9, R8
	INCQ         BX
	CMPQ         BX, CX
	JLT          tap

	VMAXPS  Y14, Y0, Y0
	VMAXPS  Y14, Y1, Y1
	VMAXPS  Y14, Y2, Y2
	VMOVUPS Y0, (DI)(AX*4)
	VMOVUPS Y1, 32(DI)(AX*4)
	VMOVUPS Y2, 64(DI)(AX*4)
	ADDQ    $24, AX
	JMP     columns

done:
	VZEROUPPER
	RET
