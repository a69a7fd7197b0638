// NEON instructions as words: those that Go's assembler lacks, and some that macros want
// with numbers for registers. The order is that of Go's vector instructions: the last
// register is set. A vector is four floats or integers of 32 bits (4S) or two floats of
// 64 (2D). The names are those of the Arm Architecture Reference Manual for A-profile
// (DDI 0487), section C7.2, which has the encodings.

// FADD (vector): d = n + m
#define FADD4(m, n, d) WORD $(0x4E20D400 | (m)<<16 | (n)<<5 | (d))

// FSUB (vector): d = n - m
#define FSUB4(m, n, d) WORD $(0x4EA0D400 | (m)<<16 | (n)<<5 | (d))

// FMUL (vector): d = n * m, of four floats and of two
#define FMUL4(m, n, d) WORD $(0x6E20DC00 | (m)<<16 | (n)<<5 | (d))
#define FMUL2(m, n, d) WORD $(0x6E60DC00 | (m)<<16 | (n)<<5 | (d))

// FDIV (vector): d = n / m
#define FDIV4(m, n, d) WORD $(0x6E20FC00 | (m)<<16 | (n)<<5 | (d))

// FMAX (vector): d = the larger of n and m
#define FMAX4(m, n, d) WORD $(0x4E20F400 | (m)<<16 | (n)<<5 | (d))

// FMLA (vector): d += n * m, rounded once
#define FMLA4(m, n, d) WORD $(0x4E20CC00 | (m)<<16 | (n)<<5 | (d))

// Element i of m, 0 to 3, for each value of n: its low bit is bit 21, its high bit bit 11.
#define ELEMENT(m, i, n, d) (((i)&1)<<21 | ((i)>>1)<<11 | (m)<<16 | (n)<<5 | (d))

// FMUL (by element): d = n * m[i]
#define FMULE(m, i, n, d) WORD $(0x4F809000 | ELEMENT(m, i, n, d))

// FMLA (by element): d += n * m[i], rounded once
#define FMLAE(m, i, n, d) WORD $(0x4F801000 | ELEMENT(m, i, n, d))

// FMLS (by element): d -= n * m[i], rounded once
#define FMLSE(m, i, n, d) WORD $(0x4F805000 | ELEMENT(m, i, n, d))

// FCVTN, FCVTN2: the lower, the upper half of d = the floats of 64 bits in n
#define FCVTNLOW(n, d) WORD $(0x0E616800 | (n)<<5 | (d))
#define FCVTNHIGH(n, d) WORD $(0x4E616800 | (n)<<5 | (d))

// SCVTF (vector, integer): d = the signed integers n as floats
#define SCVTF4(n, d) WORD $(0x4E21D800 | (n)<<5 | (d))

// SSHR (vector): d = the signed integers n shifted right by so many bits
#define SSHR4(bits, n, d) WORD $(0x4F000400 | (64-(bits))<<16 | (n)<<5 | (d))

// SHL: d = the integers n shifted left by so many bits
#define SHL4(bits, n, d) WORD $(0x4F005400 | (32+(bits))<<16 | (n)<<5 | (d))

// SUB (vector): d = n - m, integers
#define SUB4(m, n, d) WORD $(0x6EA08400 | (m)<<16 | (n)<<5 | (d))

// MOV (vector), which is ORR (vector, register): d = n
#define MOV4(n, d) WORD $(0x4EA01C00 | (n)<<16 | (n)<<5 | (d))

// DUP (element): each value of d = element i of n
#define DUPE(n, i, d) WORD $(0x4E040400 | (i)<<19 | (n)<<5 | (d))
