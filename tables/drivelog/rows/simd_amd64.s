#include "go_asm.h"
#include "textflag.h"

// EVERY repeats a word in a register, EACH a byte.
#define EVERY(word, x) \
	MOVQ       word, AX; \
	MOVQ       AX, x; \
	PUNPCKLQDQ x, x
#define EACH(byte, x) \
	MOVBLZX byte, AX; \
	IMUL3Q  $0x01010101, AX, AX; \
	MOVQ    AX, x; \
	PSHUFD  $0, x, x

// MARKS marks which of 16 bytes are delimiters, as in X8, or line ends, as in X9, and
// counts line ends in the bytes of X10.
#define MARKS(at, x, marks) \
	MOVOU    at(R12), x; \
	MOVO     x, X4; \
	PCMPEQB  X8, x; \
	PCMPEQB  X9, X4; \
	PSUBB    X4, X10; \
	POR      X4, x; \
	PMOVMSKB x, marks

// PLACES puts the places of eight bytes that a byte marks behind others at DI. X6 is
// where the eight begin, and X7 eight, in each place.
#define PLACES(marks) \
	MOVBLZX marks, SI; \
	MOVBLZX (R10)(SI*1), R11; \
	ADDL    SI, SI; \
	MOVOU   (R9)(SI*8), X5; \
	PADDW   X6, X5; \
	MOVOU   X5, (DI); \
	ADDQ    R11, DI; \
	PADDW   X7, X6

// CELL takes a cell from a place: the bytes that end in it, and what its number
// is divided by, each into one half of a register, and into another a mask of the bytes
// that are its own. With more or fewer characters than the shape has, it is odd.
#define CELL(place, load, bytes, own, scale) \
	MOVL    place, AX; \
	MOVWLZX AX, BX; \
	SHRL    $16, AX; \
	XORL    R8, R8; \
	CMPB    1(SI)(BX*1), $'-'; \
	SETEQ   R8; \
	load    -8(SI)(AX*1), bytes; \
	load    shape_scales(R9)(R8*8), scale; \
	NOTQ    BX; \
	ADDQ    BX, AX; \
	SUBQ    R8, AX; \
	MOVL    AX, BX; \
	ANDL    $15, BX; \
	load    (R10)(BX*8), own; \
	SUBQ    R12, AX; \
	CMPQ    AX, R13; \
	JHI     odd

// func putPlaces(e *ends, text *window, before uint, delim, eol byte)
TEXT ·putPlaces(SB), NOSPLIT, $0-26
	MOVQ e+0(FP), DI
	ADDQ $(ends_places+2), DI
	MOVQ text+8(FP), R12
	MOVQ before+16(FP), R13
	ADDQ R12, R13
	ADDQ $const_margin, R12
	EACH(delim+24(FP), X8)
	EACH(eol+25(FP), X9)
	EVERY($const_eachPlace*const_margin, X6)
	EVERY($const_eachPlace*8, X7)
	LEAQ ·spots(SB), R9
	LEAQ ·sizes(SB), R10
	PXOR X11, X11
	PXOR X12, X12

block:
	CMPQ   R12, R13
	JCC    done
	PXOR   X10, X10
	MARKS(0, X0, AX)
	MARKS(16, X1, BX)
	MARKS(32, X2, CX)
	MARKS(48, X3, DX)
	PLACES(AL)
	PLACES(AH)
	PLACES(BL)
	PLACES(BH)
	PLACES(CL)
	PLACES(CH)
	PLACES(DL)
	PLACES(DH)
	PSADBW X11, X10
	PADDQ  X10, X12
	ADDQ   $64, R12
	JMP    block

done:
	MOVQ       e+0(FP), AX
	LEAQ       ends_places(AX), BX
	SUBQ       BX, DI
	MOVQ       DI, ends_size(AX)
	MOVO       X12, X0
	PUNPCKHQDQ X0, X0
	PADDQ      X12, X0
	MOVQ       X0, ends_lines(AX)
	RET

// func readPairs(s *shape, text *window, c *cells, out []float64) (rest uint64)
TEXT ·readPairs(SB), NOSPLIT, $0-56
	MOVQ s+0(FP), R9
	MOVQ text+8(FP), SI
	MOVQ c+16(FP), DX
	MOVQ cells_places(DX), CX
	MOVQ cells_step(DX), R14
	MOVQ out_base+24(FP), DI
	MOVQ out_len+32(FP), DX
	LEAQ (DI)(DX*8), R15
	LEAQ ·lasts(SB), R10
	MOVQ shape_fewest(R9), R12
	MOVQ shape_span(R9), R13
	EVERY(shape_mark(R9), X8)
	EVERY(shape_before(R9), X9)
	EVERY(shape_least(R9), X10)
	XORL R11, R11
	MOVL $1, DX

	// By these each digit and the next, then each two and the next two, then each four and
	// the next four make a number.
	EVERY($0x0a010a010a010a01, X11)
	EVERY($0x0001006400010064, X12)
	EVERY($0x0001271000012710, X13)

pair:
	CMPQ     DI, R15
	JCC      done
	CELL((CX), MOVSD, X0, X2, X4)
	CELL((CX)(R14*1), MOVHPD, X0, X2, X4)
	PXOR     X8, X0
	PAND     X2, X0
	MOVO     X0, X1
	PADDB    X10, X1
	POR      X0, X1
	PMOVMSKB X1, AX
	TESTL    AX, AX
	JNE      odd
	MOVO     X0, X1
	PAND     X9, X1
	PXOR     X1, X0
	PSLLQ    $8, X1
	POR      X1, X0
	PMULLW   X11, X0
	PSRLW    $8, X0
	PMADDWL  X12, X0
	PACKSSLW X0, X0
	PMADDWL  X13, X0
	CVTPL2PD X0, X0
	DIVPD    X4, X0
	MOVUPD   X0, (DI)

next:
	LEAQ (CX)(R14*2), CX
	ADDQ $16, DI
	SHLQ $1, DX
	JMP  pair

odd:
	ORQ DX, R11
	JMP next

done:
	MOVQ R11, rest+48(FP)
	RET
