// NEON instructions that Go's assembler lacks, as words. Registers are numbers, in the
// order of Go's other vector instructions: the last is set. Values are four floats of 32
// bits (4S). The names are those of the Arm Architecture Reference Manual for A-profile
// (DDI 0487), section C7.2, which has the encodings.

// FADD (vector): d = n + m
#define FADD4(m, n, d) WORD $(0x4E20D400 | (m)<<16 | (n)<<5 | (d))

// FSUB (vector): d = n - m
#define FSUB4(m, n, d) WORD $(0x4EA0D400 | (m)<<16 | (n)<<5 | (d))

// FMUL (vector): d = n * m
#define FMUL4(m, n, d) WORD $(0x6E20DC00 | (m)<<16 | (n)<<5 | (d))

// FNEG (vector): d = -n
#define FNEG4(n, d) WORD $(0x6EA0F800 | (n)<<5 | (d))

// Element i of m, 0 to 3, for each value of n: its low bit is bit 21, its high bit bit 11.
#define ELEMENT(m, i, n, d) (((i)&1)<<21 | ((i)>>1)<<11 | (m)<<16 | (n)<<5 | (d))

// FMUL (by element): d = n * m[i]
#define FMULE(m, i, n, d) WORD $(0x4F809000 | ELEMENT(m, i, n, d))

// FMLA (by element): d += n * m[i], rounded once
#define FMLAE(m, i, n, d) WORD $(0x4F801000 | ELEMENT(m, i, n, d))
