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

// BOUNDS takes a cell from a place: AX is where it ends, BX where the field before it
// does, and R8 is 1 where it has a sign.
#define BOUNDS(place) \
	MOVL    place, AX; \
	MOVWLZX AX, BX; \
	SHRL    $16, AX; \
	XORL    R8, R8; \
	CMPB    1(SI)(BX*1), $'-'; \
	SETEQ   R8

// OWN makes AX the characters of a cell's number less some, and takes a mask of as many
// of a word's last bytes.
#define OWN(less, load, mask) \
	NOTQ BX; \
	ADDQ BX, AX; \
	SUBQ R8, AX; \
	SUBQ less, AX; \
	MOVL AX, BX; \
	ANDL $15, BX; \
	load (R10)(BX*8), mask

// CELL takes a cell of one word: the bytes that end in it, a mask of its own, and what
// its number is divided by, each into one half of a register. With more or fewer
// characters than the shape has, it is odd.
#define CELL(place, load, bytes, mask, scale) \
	BOUNDS(place); \
	load -8(SI)(AX*1), bytes; \
	load shape_scales(R9)(R8*8), scale; \
	OWN($0, load, mask); \
	SUBQ R12, AX; \
	CMPQ AX, R13; \
	JHI  odd

// NUMBERS makes two numbers of the two words in X0, of which X2 masks what is theirs:
// X8 makes digits of characters, X9 masks what is before the mark, and by X10 a byte
// shows that it is no digit. By X11 to X13 each digit and the next, then each two and the
// next two, then each four and the next four make a number.
#define NUMBERS \
	PXOR     X8, X0; \
	PAND     X2, X0; \
	MOVO     X0, X1; \
	PADDB    X10, X1; \
	POR      X0, X1; \
	PMOVMSKB X1, AX; \
	TESTL    AX, AX; \
	JNE      odd; \
	MOVO     X0, X1; \
	PAND     X9, X1; \
	PXOR     X1, X0; \
	PSLLQ    $8, X1; \
	POR      X1, X0; \
	PMULLW   X11, X0; \
	PSRLW    $8, X0; \
	PMADDWL  X12, X0; \
	PACKSSLW X0, X0; \
	PMADDWL  X13, X0; \
	CVTPL2PD X0, X0

// BEGIN takes what a function is given that reads cells.
#define BEGIN \
	MOVQ s+0(FP), R9; \
	MOVQ text+8(FP), SI; \
	MOVQ c+16(FP), DX; \
	MOVQ cells_places(DX), CX; \
	MOVQ cells_step(DX), R14; \
	MOVQ out_base+24(FP), DI; \
	MOVQ out_len+32(FP), DX; \
	LEAQ (DI)(DX*8), R15; \
	LEAQ ·lasts(SB), R10; \
	EVERY($0x0a010a010a010a01, X11); \
	EVERY($0x0001006400010064, X12); \
	EVERY($0x0001271000012710, X13); \
	XORL R11, R11; \
	MOVL $1, DX

// WORDS fills a register with one word for the characters before the last eight, and one
// of the shape for those.
#define WORDS(before, last, x) \
	MOVQ   before, AX; \
	MOVQ   AX, x; \
	MOVHPD last(R9), x

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
	BEGIN
	MOVQ shape_fewest(R9), R12
	MOVQ shape_span(R9), R13
	EVERY(shape_mark(R9), X8)
	EVERY(shape_before(R9), X9)
	EVERY(shape_least(R9), X10)

pair:
	CMPQ   DI, R15
	JCC    done
	CELL((CX), MOVSD, X0, X2, X4)
	CELL((CX)(R14*1), MOVHPD, X0, X2, X4)
	NUMBERS
	DIVPD  X4, X0
	MOVUPD X0, (DI)

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

// func readLong(s *shape, text *window, c *cells, out []float64) (rest uint64)
TEXT ·readLong(SB), NOSPLIT, $0-56
	BEGIN
	WORDS($const_eachZero, shape_mark, X8)
	WORDS($0, shape_before, X9)
	WORDS($const_notNine, shape_least, X10)
	MOVSD   shape_above(R9), X5
	PCMPEQB X3, X3
	PSLLO   $8, X3

cell:
	CMPQ  DI, R15
	JCC   done
	BOUNDS((CX))
	MOVOU -16(SI)(AX*1), X0
	MOVSD shape_scales(R9)(R8*8), X4
	OWN($8, MOVSD, X2)
	POR   X3, X2
	SUBQ  $1, AX
	CMPQ  AX, $7
	JHI   odd
	NUMBERS
	MOVO     X0, X1
	UNPCKHPD X1, X1
	MULSD    X5, X0
	ADDSD    X1, X0
	DIVSD    X4, X0
	MOVSD    X0, (DI)

next:
	ADDQ R14, CX
	ADDQ $8, DI
	SHLQ $1, DX
	JMP  cell

odd:
	ORQ DX, R11
	JMP next

done:
	MOVQ R11, rest+48(FP)
	RET
