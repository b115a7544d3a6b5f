package rows

import (
	"encoding/binary"
	"math/bits"
)

// stretch are the bytes in which the ends of fields are found at a time: about as many
// rows as are read together, and few enough to stay in a processor's first cache.
const stretch = 1<<13 - 64

// window is a stretch of the text with margin bytes before it and some behind, so that
// eight bytes can be looked at wherever a cell stands. A window has one size, and places
// in it are masked with inWindow, which changes none of them: so the compiler leaves
// out the checks of bounds.
type window [1<<13 + 8]byte

const (
	margin   = 8
	inWindow = 1<<13 - 1
)

// word is the eight bytes from a place on.
func (w *window) word(at uint) uint64 {
	at &= inWindow
	return binary.LittleEndian.Uint64(w[at : at+8])
}

// ends are the places in a window at which its fields end: at delimiters and line ends.
// They are numbers of 16 bits, so that four are written at once; the first is the end of
// a field before the window's first.
type ends struct {
	size   uint // bytes of them
	places [1<<15 + 8]byte
}

// at is where field i ends.
func (e *ends) at(i int) int { return int(binary.LittleEndian.Uint16(e.places[2*i+2:])) }

// pair is where field i ends, in the high half, and in the low one where that before
// it does.
func (e *ends) pair(i int) uint32 { return binary.LittleEndian.Uint32(e.places[2*i:]) }

// fields is how many there are.
func (e *ends) fields() int { return int(e.size)/2 - 1 }

// inEight tells which of eight bytes end a field, in 16 bits each, by the bits of those
// that do not. It has room for four.
var inEight = func() (list [256]uint64) {
	for others := range list {
		n := 0
		for i := range uint64(8) {
			if others>>i&1 == 0 && n < 64 {
				list[others] |= i << n
				n += 16
			}
		}
	}
	return list
}()

// sizes are the bytes that the places in eight bytes take; crowded where these are more
// than four places.
var sizes = func() (list [256]uint8) {
	for others := range list {
		if list[others] = uint8(16 - 2*bits.OnesCount8(uint8(others))); list[others] > 8 {
			list[others] = crowded
		}
	}
	return list
}()

// crowded is more than a block of words has that are not.
const crowded = 65

const eachPlace = 0x0001000100010001

// find finds where delimiters and line ends stand in a window before a place. Which
// bytes they are can't be foreseen; so each word takes the same steps, and a block with
// crowded words is done again.
func (e *ends) find(text *window, before int, delim, eol byte) {
	binary.LittleEndian.PutUint16(e.places[:], margin-1)
	n, a, b := uint(2), eachByte*uint64(delim), eachByte*uint64(eol)
	for at := uint(margin); at < uint(before); at += 64 {
		t, begin, place := (*[64]byte)(text[at:]), n, uint64(at)*eachPlace
		n = e.put(n, others(binary.LittleEndian.Uint64(t[0:]), a, b), place)
		n = e.put(n, others(binary.LittleEndian.Uint64(t[8:]), a, b), place+8*eachPlace)
		n = e.put(n, others(binary.LittleEndian.Uint64(t[16:]), a, b), place+16*eachPlace)
		n = e.put(n, others(binary.LittleEndian.Uint64(t[24:]), a, b), place+24*eachPlace)
		n = e.put(n, others(binary.LittleEndian.Uint64(t[32:]), a, b), place+32*eachPlace)
		n = e.put(n, others(binary.LittleEndian.Uint64(t[40:]), a, b), place+40*eachPlace)
		n = e.put(n, others(binary.LittleEndian.Uint64(t[48:]), a, b), place+48*eachPlace)
		n = e.put(n, others(binary.LittleEndian.Uint64(t[56:]), a, b), place+56*eachPlace)
		if n-begin >= crowded {
			n = e.putMany(begin, t, delim, eol, at)
		}
	}
	for e.size = n; e.at(e.fields()-1) >= before; {
		e.size -= 2
	}
}

// others marks the bytes of a word that are neither of those repeated in a and b, a bit
// a byte: the product brings the top bits together.
func others(w, a, b uint64) uint64 {
	low := w & lowBits
	return ((low^a+lowBits)&(low^b+lowBits) | w) & topBits * 0x0002040810204081 >> 56
}

// put puts the places of eight bytes behind others, if they are four at most.
func (e *ends) put(n uint, others, place uint64) uint {
	n &= 1<<15 - 1 // as it is, for no more than a stretch
	binary.LittleEndian.PutUint64(e.places[n:n+8], inEight[others]+place)
	return n + uint(sizes[others])
}

// putMany puts the places of crowded bytes, one by one.
func (e *ends) putMany(n uint, text *[64]byte, delim, eol byte, place uint) uint {
	for i, c := range text {
		if c == delim || c == eol {
			binary.LittleEndian.PutUint16(e.places[n:], uint16(place)+uint16(i))
			n += 2
		}
	}
	return n
}
