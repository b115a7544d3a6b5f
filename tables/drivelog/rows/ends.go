package rows

import (
	"bytes"
	"encoding/binary"
	"math/bits"
)

// stretch are the bytes in which the ends of fields are found at a time: about as many
// rows as are read together, and few enough to stay in a processor's first cache.
const stretch = 1<<13 - 64

// window is a stretch of the text with margin bytes before it and some behind, so that
// sixteen bytes can be looked at wherever a cell ends. A window has one size, and places
// in it are masked with inWindow, which changes none of them: so the compiler leaves
// out the checks of bounds.
type window [1<<13 + 8]byte

const (
	margin   = 16
	inWindow = 1<<13 - 1
)

// word is the eight bytes from a place on.
func (w *window) word(at uint) uint64 {
	at &= inWindow
	return binary.LittleEndian.Uint64(w[at : at+8])
}

// ends are the places in a window at which its fields end: at delimiters and line ends.
// They are numbers of 16 bits, so that eight are written at once; the first is the end of
// a field before the window's first.
type ends struct {
	size   uint // bytes of them
	lines  int  // how many of them end a line
	places [1<<15 + 16]byte
}

// at is where field i ends.
func (e *ends) at(i int) int { return int(binary.LittleEndian.Uint16(e.places[2*i+2:])) }

// pair is where field i ends, in the high half, and in the low one where that before
// it does.
func (e *ends) pair(i int) uint32 { return binary.LittleEndian.Uint32(e.places[2*i:]) }

// fields is how many there are.
func (e *ends) fields() int { return int(e.size)/2 - 1 }

// spots tells which of eight bytes end a field, in 16 bits each, by a bit a byte.
var spots = func() (list [256][2]uint64) {
	for marks := range list {
		n := 0
		for i := range uint64(8) {
			if marks>>i&1 != 0 {
				list[marks][n/4] |= i << (n % 4 * 16)
				n++
			}
		}
	}
	return list
}()

// sizes are the bytes that the places in eight bytes take.
var sizes = func() (list [256]uint8) {
	for marks := range list {
		list[marks] = uint8(2 * bits.OnesCount8(uint8(marks)))
	}
	return list
}()

const eachPlace = 0x0001000100010001

// find finds where the lines that end before a place, and their fields, end in a window.
// It returns where the next line begins.
func (e *ends) find(text *window, before int, delim, eol byte) int {
	binary.LittleEndian.PutUint16(e.places[:], margin-1)
	putPlaces(e, text, uint(before), delim, eol)
	for ; e.fields() > 0; e.size -= 2 {
		at := e.at(e.fields() - 1)
		switch {
		case text[at] != eol:
		case at < before:
			return at + 1
		default:
			e.lines--
		}
	}
	return margin
}

// putWords puts the places, and counts line ends, for 64 bytes at a time, the last of
// which begin before a place. Which bytes they are can't be foreseen; so each word takes
// the same steps.
func (e *ends) putWords(text *window, before uint, delim, eol byte) {
	n, a, b := uint(2), eachByte*uint64(delim), eachByte*uint64(eol)
	e.lines = 0
	for at := uint(margin); at < before; at += 64 {
		t, place := (*[64]byte)(text[at:]), uint64(at)*eachPlace
		e.lines += bytes.Count(t[:], []byte{eol})
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[0:]), a, b), place)
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[8:]), a, b), place+8*eachPlace)
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[16:]), a, b), place+16*eachPlace)
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[24:]), a, b), place+24*eachPlace)
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[32:]), a, b), place+32*eachPlace)
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[40:]), a, b), place+40*eachPlace)
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[48:]), a, b), place+48*eachPlace)
		n = e.putWord(n, marked(binary.LittleEndian.Uint64(t[56:]), a, b), place+56*eachPlace)
	}
	e.size = n
}

// marked marks the bytes of a word that are one of those repeated in a and b, a bit a
// byte: the product brings the top bits together.
func marked(w, a, b uint64) uint64 {
	low := w & lowBits
	return topBits &^ ((low^a+lowBits)&(low^b+lowBits) | w) * 0x0002040810204081 >> 56
}

// putWord puts the places of eight bytes behind others.
func (e *ends) putWord(n uint, marks, place uint64) uint {
	n &= 1<<15 - 1 // as it is, for no more than a stretch
	binary.LittleEndian.PutUint64(e.places[n:n+8], spots[marks][0]+place)
	if sizes[marks] > 8 { // hardly ever
		binary.LittleEndian.PutUint64(e.places[n+8:n+16], spots[marks][1]+place)
	}
	return n + uint(sizes[marks])
}
