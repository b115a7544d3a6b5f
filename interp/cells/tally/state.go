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

// AddEncoded adds a cell from its encoding.
func (c *Cell) AddEncoded(b []byte) error {
	visits, b, err := uvarint(b)
	if err != nil || visits == 0 || visits > math.MaxInt64 || len(b) < 16 {
		return ErrState
	}
	low := math.Float64frombits(binary.LittleEndian.Uint64(b))
	high := math.Float64frombits(binary.LittleEndian.Uint64(b[8:]))
	if !(low <= high) || math.IsInf(low, 0) || math.IsInf(high, 0) {
		return ErrState
	}
	if c.visits == 0 {
		c.min, c.max = low, high
	}
	c.min, c.max = min(c.min, low), max(c.max, high)
	c.visits += int64(visits)
	b = b[16:]
	for i := range c.sum {
		if b, err = c.sum[i].AddEncoded(b); err != nil {
			return ErrState
		}
	}
	var last []byte
	for i := range c.cluster {
		if len(b) > 0 && b[0] == 0 && i > 0 {
			if _, err = c.cluster[i].addEncoded(last); err != nil {
				return ErrState
			}
			b = b[1:]
			continue
		}
		last = b
		if b, err = c.cluster[i].addEncoded(b); err != nil {
			return ErrState
		}
	}
	if b, err = c.counts.addEncoded(b); err != nil || len(b) > 0 {
		return ErrState
	}
	return nil
}

func (c *clusters) addEncoded(b []byte) ([]byte, error) {
	k, b, err := uvarint(b)
	if err != nil || k == 0 || k > math.MaxInt64/2 {
		return nil, ErrState
	}
	c.k += int64(k)
	for _, s := range []*exact.Sum{&c.nn, &c.ns, &c.ss} {
		if b, err = s.AddEncoded(b); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// Peek is what an encoded cell holds of the statistics that are read off it
// without more arithmetic than a quotient.
func Peek(b []byte) (visits uint64, low, high, count, sum float64, err error) {
	visits, n := binary.Uvarint(b)
	if n <= 0 || len(b) < n+16 {
		return 0, 0, 0, 0, 0, ErrState
	}
	low = math.Float64frombits(binary.LittleEndian.Uint64(b[n:]))
	high = math.Float64frombits(binary.LittleEndian.Uint64(b[n+8:]))
	rest := b[n+16:]
	for _, to := range []*float64{&count, nil, &sum} {
		var v float64
		if v, rest, err = exact.Peek(rest); err != nil {
			return 0, 0, 0, 0, 0, ErrState
		}
		if to != nil {
			*to = v
		}
	}
	return visits, low, high, count, sum, nil
}

func uvarint(b []byte) (uint64, []byte, error) {
	v, n := binary.Uvarint(b)
	if n <= 0 {
		return 0, nil, ErrState
	}
	return v, b[n:], nil
}
