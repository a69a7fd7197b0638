#include "textflag.h"

DATA two<>+0(SB)/4, $0x40000000
GLOBL two<>(SB), RODATA|NOPTR, $4
DATA four<>+0(SB)/4, $0x40800000
GLOBL four<>(SB), RODATA|NOPTR, $4
DATA five<>+0(SB)/4, $0x40a00000
GLOBL five<>(SB), RODATA|NOPTR, $4
DATA eight<>+0(SB)/4, $0x41000000
GLOBL eight<>(SB), RODATA|NOPTR, $4

// func spreadVector(dst *float32, apart int, src *[tileIn]*float32, n int)
// Eight columns at a time; the last eight may be done twice.
TEXT ·spreadVector(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ apart+8(FP), R14
	MOVQ src+16(FP), SI
	MOVQ n+24(FP), CX
	MOVQ 0(SI), R8
	MOVQ 8(SI), R9
	MOVQ 16(SI), R10
	MOVQ 24(SI), R11
	MOVQ 32(SI), R12
	MOVQ 40(SI), R13
	SHLQ $2, R14            // in bytes
	LEAQ (R14)(R14*2), DX   // 3 apart
	LEAQ (DI)(DX*1), BX     // rows 3 to 5
	VBROADCASTSS four<>(SB), Y15
	VBROADCASTSS five<>(SB), Y14
	XORQ AX, AX
	SUBQ $8, CX

columns:
	VMOVUPS (R8)(AX*4), Y0
	VMOVUPS (R9)(AX*4), Y1
	VMOVUPS (R10)(AX*4), Y2
	VMOVUPS (R11)(AX*4), Y3
	VMOVUPS (R12)(AX*4), Y4
	VMOVUPS (R13)(AX*4), Y5
	VMULPS       Y15, Y0, Y0
	VFNMADD231PS Y14, Y2, Y0
	VADDPS       Y4, Y0, Y0   // 4 x0 - 5 x2 + x4
	VFMADD231PS  Y15, Y1, Y5
	VFNMADD231PS Y14, Y3, Y5  // 4 x1 - 5 x3 + x5
	VMOVAPS      Y4, Y6
	VFNMADD231PS Y15, Y2, Y6  // a = x4 - 4 x2
	VMOVAPS      Y3, Y7
	VFNMADD231PS Y15, Y1, Y7  // b = x3 - 4 x1
	VSUBPS       Y2, Y4, Y8   // c = x4 - x2
	VSUBPS       Y1, Y3, Y9
	VADDPS       Y9, Y9, Y9   // d = 2 (x3 - x1)
	LEAQ (DI)(AX*4), R15
	VMOVUPS Y0, (R15)
	VADDPS  Y7, Y6, Y10
	VMOVUPS Y10, (R15)(R14*1)
	VSUBPS  Y7, Y6, Y10
	VMOVUPS Y10, (R15)(R14*2)
	LEAQ (BX)(AX*4), R15
	VADDPS  Y9, Y8, Y10
	VMOVUPS Y10, (R15)
	VSUBPS  Y9, Y8, Y10
	VMOVUPS Y10, (R15)(R14*1)
	VMOVUPS Y5, (R15)(R14*2)
	CMPQ AX, CX
	JGE  done
	ADDQ $8, AX
	CMPQ AX, CX
	JLE  columns
	MOVQ CX, AX
	JMP  columns

done:
	VZEROUPPER
	RET

#define ROW(k, sum) \
	MOVQ    (k*8)(SI), R8 \
	MOVQ    (k*8)(DI), R9 \
	VADDPS  (R8)(AX*4), Y15, Y9 \
	VADDPS  sum, Y9, Y9 \
	VMAXPS  Y14, Y9, Y9 \
	VMOVUPS Y9, (R9)(AX*4)

// func gatherVector(dst, skip *[tileRows]*float32, sums *float32, apart int, bias float32)
TEXT ·gatherVector(SB), NOSPLIT, $0-36
	MOVQ dst+0(FP), DI
	MOVQ skip+8(FP), SI
	MOVQ sums+16(FP), BX
	MOVQ apart+24(FP), R14
	SHLQ $2, R14
	LEAQ (R14)(R14*2), DX
	LEAQ (BX)(DX*1), DX
	VBROADCASTSS bias+32(FP), Y15
	VXORPS Y14, Y14, Y14
	VBROADCASTSS two<>(SB), Y13
	VBROADCASTSS four<>(SB), Y12
	VBROADCASTSS eight<>(SB), Y11
	XORQ AX, AX

columns:
	LEAQ (BX)(AX*4), R10
	LEAQ (DX)(AX*4), R11
	VMOVUPS (R10), Y0
	VMOVUPS (R10)(R14*1), Y1
	VMOVUPS (R10)(R14*2), Y2
	VMOVUPS (R11), Y3
	VMOVUPS (R11)(R14*1), Y4
	VMOVUPS (R11)(R14*2), Y5
	VADDPS Y2, Y1, Y6 // even
	VSUBPS Y2, Y1, Y7 // odd
	VADDPS Y4, Y3, Y8 // wide
	VSUBPS Y4, Y3, Y10 // turn
	VADDPS Y6, Y0, Y0
	VADDPS Y8, Y0, Y0
	ROW(0, Y0)
	VMOVAPS Y7, Y0
	VFMADD231PS Y13, Y10, Y0
	ROW(1, Y0)
	VFMADD231PS Y12, Y8, Y6
	ROW(2, Y6)
	VFMADD231PS Y11, Y10, Y7
	VADDPS Y5, Y7, Y7
	ROW(3, Y7)
	ADDQ $8, AX
	CMPQ AX, $24
	JLT  columns
	VZEROUPPER
	RET
