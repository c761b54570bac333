#include "textflag.h"

// lasts: sixteen bytes from lasts+n on keep the last n bytes of a register.
DATA lasts<>+0(SB)/8, $0
DATA lasts<>+8(SB)/8, $0
DATA lasts<>+16(SB)/8, $0xffffffffffffffff
DATA lasts<>+24(SB)/8, $0xffffffffffffffff
GLOBL lasts<>(SB), RODATA|NOPTR, $32

// weights: of two digits, of two pairs, of two fours.
DATA weights<>+0(SB)/8, $0x010a010a010a010a
DATA weights<>+8(SB)/8, $0x010a010a010a010a
DATA weights<>+16(SB)/8, $0x0001006400010064
DATA weights<>+24(SB)/8, $0x0001006400010064
DATA weights<>+32(SB)/8, $0x0001271000012710
DATA weights<>+40(SB)/8, $0x0001271000012710
GLOBL weights<>(SB), RODATA|NOPTR, $48

// func endsAVX2(text *byte, from, to int, sep byte, out *int32) int
//
// Twelve ends are stored for each 64 bytes whether there or not: a loop over the true count would mispredict its end.
#define END(at) \
	TZCNTQ AX, DX; \
	ADDL R8, DX; \
	MOVL DX, at(DI); \
	BLSRQ AX, AX

TEXT ·endsAVX2(SB), NOSPLIT, $0-48
	MOVQ text+0(FP), SI
	MOVQ from+8(FP), R8
	MOVQ to+16(FP), R9
	MOVBLZX sep+24(FP), AX
	MOVQ out+32(FP), DI
	MOVQ DI, R10
	MOVQ AX, X0
	VPBROADCASTB X0, Y0
	MOVL $10, AX
	MOVQ AX, X1
	VPBROADCASTB X1, Y1
	MOVL $13, AX
	MOVQ AX, X2
	VPBROADCASTB X2, Y2

next:
	CMPQ R8, R9
	JGE  done
	VMOVDQU (SI)(R8*1), Y3
	VMOVDQU 32(SI)(R8*1), Y4
	VPCMPEQB Y0, Y3, Y5
	VPCMPEQB Y1, Y3, Y6
	VPCMPEQB Y2, Y3, Y7
	VPOR Y6, Y5, Y5
	VPOR Y7, Y5, Y5
	VPMOVMSKB Y5, AX
	VPCMPEQB Y0, Y4, Y5
	VPCMPEQB Y1, Y4, Y6
	VPCMPEQB Y2, Y4, Y7
	VPOR Y6, Y5, Y5
	VPOR Y7, Y5, Y5
	VPMOVMSKB Y5, BX
	SHLQ $32, BX
	ORQ  BX, AX
	POPCNTQ AX, CX
	END(0)
	END(4)
	END(8)
	END(12)
	END(16)
	END(20)
	END(24)
	END(28)
	END(32)
	END(36)
	END(40)
	END(44)
	CMPQ CX, $12
	JGT  more

counted:
	LEAQ (DI)(CX*4), DI
	ADDQ $64, R8
	JMP  next

more:
	LEAQ 48(DI), R11

each:
	TZCNTQ AX, DX
	ADDL R8, DX
	MOVL DX, (R11)
	ADDQ $4, R11
	BLSRQ AX, AX
	JNZ  each
	JMP  counted

done:
	VZEROUPPER
	SUBQ R10, DI
	SHRQ $2, DI
	MOVQ DI, ret+40(FP)
	RET

// func cellsAVX2(c *wideCells) int
TEXT ·cellsAVX2(SB), NOSPLIT, $0-16
	MOVQ c+0(FP), R13
	MOVQ 0(R13), SI      // text
	MOVQ 8(R13), DI      // the cell's end among the ends
	MOVQ 16(R13), R8     // bytes from there to that of the next row
	MOVQ 24(R13), R9     // rows
	MOVQ 32(R13), R10    // out
	VMOVSD 40(R13), X9   // div
	MOVQ 48(R13), R12    // term
	MOVQ 56(R13), R14    // least characters
	MOVQ 64(R13), R15    // most
	VMOVDQU 72(R13), X10 // pattern
	VMOVDQU 88(R13), X11 // limit
	VMOVDQU 104(R13), X12 // shut
	VMOVDQU weights<>+0(SB), X13
	VMOVDQU weights<>+16(SB), X14
	VMOVDQU weights<>+32(SB), X15
	LEAQ lasts<>(SB), R11
	XORQ R13, R13        // rows done
	VXORPD X4, X4, X4

row:
	CMPQ R13, R9
	JGE  done
	MOVLQSX (DI), AX
	MOVLQSX -4(DI), BX
	XORL DX, DX
	CMPB 1(SI)(BX*1), $45
	SETEQ DX
	MOVQ AX, CX
	SUBQ BX, CX
	SUBQ DX, CX
	DECQ CX
	CMPQ CX, R14
	JLT  done
	CMPQ CX, R15
	JGT  done
	CMPB (SI)(AX*1), R12
	JNE  done
	VMOVDQU -16(SI)(AX*1), X0
	VPXOR X10, X0, X0
	VPAND (R11)(CX*1), X0, X0
	VPSUBUSB X11, X0, X1
	VPTEST X1, X1
	JNZ  done
	VPSHUFB X12, X0, X0
	VPMADDUBSW X13, X0, X0
	VPMADDWD X14, X0, X0
	VPACKUSDW X0, X0, X0
	VPMADDWD X15, X0, X0
	VMOVQ X0, AX
	MOVL AX, BX
	SHRQ $32, AX
	IMUL3Q $100000000, BX, BX
	ADDQ BX, AX
	VCVTSI2SDQ AX, X4, X2
	VDIVSD X9, X2, X2
	VMOVQ X2, AX
	SHLQ $63, DX
	ORQ  DX, AX
	MOVQ AX, (R10)
	ADDQ $8, R10
	ADDQ R8, DI
	INCQ R13
	JMP  row

done:
	MOVQ R13, ret+8(FP)
	RET
