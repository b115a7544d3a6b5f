package rows

import "math/bits"

// What takes most of the time is done here by instructions on 16 bytes, those that every
// processor of the kind has. Beside each function stands what it does, in Go.

// putPlaces is [ends.putWords], in a fifth of its time.
//
//go:noescape
func putPlaces(e *ends, text *window, before uint, delim, eol byte)

// readPairs is [shape.plain] of an even number of cells, two at a time, and marks the
// pairs, each by one bit, that it leaves to that.
//
//go:noescape
func readPairs(s *shape, text *window, c *cells, out []float64) (rest uint64)

// readLong is [shape.plainLong].
//
//go:noescape
func readLong(s *shape, text *window, c *cells, out []float64) (rest uint64)

func (s *shape) long(text *window, c *cells, out []float64) (rest uint64) {
	return readLong(s, text, c, out)
}

// short is [shape.plain].
func (s *shape) short(text *window, c *cells, out []float64) (rest uint64) {
	n := len(out) &^ 1
	for pairs := readPairs(s, text, c, out[:n]); pairs != 0; pairs &= pairs - 1 {
		i := 2 * bits.TrailingZeros64(pairs)
		rest |= s.plain(text, c.from(i), out[i:i+2]) << i
	}
	if n < len(out) {
		rest |= s.plain(text, c.from(n), out[n:]) << n
	}
	return rest
}
