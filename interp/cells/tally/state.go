package tally

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"

	"calsplice/interp/cells/exact"
)

// ErrState says that an encoded cell is not one.
var ErrState = errors.New("the exact state of its cells is damaged")

// Append encodes the cell, so that equal cells have equal bytes: visits, minimum,
// maximum, exact sums, those of clusters, counts of values.
func (c *Cell) Append(b []byte) []byte {
	b = binary.AppendUvarint(b, uint64(c.visits))
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(c.min))
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(c.max))
	for i := range c.sum {
		b = c.sum[i].Append(b)
	}
	last, end := 0, 0 // where the span before that was written stands in b
	for i := range c.cluster {
		k, from := &c.cluster[i], len(b)
		b = binary.AppendUvarint(b, uint64(k.k))
		b = k.ss.Append(k.ns.Append(k.nn.Append(b)))
		if i > 0 && bytes.Equal(b[last:end], b[from:]) {
			b = append(b[:from], 0) // as the span before: most often so
			continue
		}
		last, end = from, len(b)
	}
	return c.counts.append(b)
}

// Decode reads a cell from its encoding.
func Decode(b []byte) (*Cell, error) {
	r, c := &reader{b: b}, &Cell{}
	c.visits, c.min, c.max = r.number(), r.double(), r.double()
	r.bad = r.bad || !(c.min <= c.max) || math.IsInf(c.min, 0) || math.IsInf(c.max, 0)
	for i := range c.sum {
		c.sum[i] = r.sum()
	}
	for i := range c.cluster {
		k := &c.cluster[i]
		if i > 0 && len(r.b) > 0 && r.b[0] == 0 {
			*k, r.b = c.cluster[i-1], r.b[1:]
			continue
		}
		k.k, k.nn, k.ns, k.ss = r.number(), r.sum(), r.sum(), r.sum()
	}
	c.counts.read(r)
	if r.bad || len(r.b) > 0 {
		return nil, ErrState
	}
	return c, nil
}

// reader takes an encoding apart, and remembers where something in it was none.
type reader struct {
	b   []byte
	bad bool
}

// took goes on behind so many bytes; fewer than one are none that can be read.
func (r *reader) took(n int) bool {
	if r.bad = r.bad || n <= 0; !r.bad {
		r.b = r.b[n:]
	}
	return !r.bad
}

func (r *reader) uvarint() uint64 {
	v, n := binary.Uvarint(r.b)
	r.took(n)
	return v
}

func (r *reader) varint() int64 {
	v, n := binary.Varint(r.b)
	r.took(n)
	return v
}

// number is how many there are of something, one at least.
func (r *reader) number() int64 {
	v := r.uvarint()
	r.bad = r.bad || v == 0 || v > math.MaxInt64/2
	return int64(v)
}

func (r *reader) double() float64 {
	if b := r.b; len(b) >= 8 && r.took(8) {
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	}
	r.bad = true
	return 0
}

func (r *reader) sum() exact.Num {
	v, rest, ok := exact.Decode(r.b)
	r.b, r.bad = rest, r.bad || !ok
	return v
}
