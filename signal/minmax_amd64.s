#include "textflag.h"

// func minmaxAVX2(data *byte, blocks, pairs int, out *[8]int16)
//
// Y0, Y1: least and largest of the even words; Y2, Y3 of the odd ones, so that neither waits for the other.
TEXT ·minmaxAVX2(SB), NOSPLIT, $0-32
	MOVQ data+0(FP), SI
	MOVQ blocks+8(FP), CX
	MOVQ pairs+16(FP), DX
	MOVQ out+24(FP), DI
	TESTQ CX, CX
	JLE  done

block:
	VMOVDQU (SI), Y0
	VMOVDQA Y0, Y1
	VMOVDQU 32(SI), Y2
	VMOVDQA Y2, Y3
	ADDQ $64, SI
	MOVQ DX, R8
	DECQ R8
	JLE  fold

words:
	VMOVDQU (SI), Y4
	VMOVDQU 32(SI), Y5
	VPMINSW Y4, Y0, Y0
	VPMAXSW Y4, Y1, Y1
	VPMINSW Y5, Y2, Y2
	VPMAXSW Y5, Y3, Y3
	ADDQ $64, SI
	DECQ R8
	JNZ  words

fold:
	VPMINSW Y2, Y0, Y0
	VPMAXSW Y3, Y1, Y1
	VEXTRACTI128 $1, Y0, X2
	VEXTRACTI128 $1, Y1, X3
	VPMINSW X2, X0, X0
	VPMAXSW X3, X1, X1
	VPSHUFD $0x4e, X0, X2
	VPSHUFD $0x4e, X1, X3
	VPMINSW X2, X0, X0
	VPMAXSW X3, X1, X1
	VPUNPCKLQDQ X1, X0, X0
	VMOVDQU X0, (DI)
	ADDQ $16, DI
	DECQ CX
	JNZ  block

	VZEROUPPER

done:
	RET
