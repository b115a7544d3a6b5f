package tally

import "math"

// bins count whole samples by the number of a last decimal that their value is: a
// logger writes most channels with few decimals, and the values of one cell are close
// together. The zero bins have room for none.
type bins struct {
	low, scale float64 // count[i] is of the value (low + i) / scale
	count      []uint8 // so that those of many cells fit in a processor's cache
}

// mostBins are the values that have room.
const mostBins = 4096

// full are the samples that a bin has no room for.
const full = math.MaxUint8 + 1

// find is the bin of a value; −1 where there is none.
func (b *bins) find(v float64) int {
	i := int(float64(v*b.scale) - b.low + 0.5)
	if uint(i) >= uint(len(b.count)) || (b.low+float64(i))/b.scale != v {
		return -1
	}
	return i
}

// cover makes room around values, where they are whole numbers of one last decimal.
// Nothing must be counted yet.
func (b *bins) cover(list []slot) {
	for scale := 1.0; scale <= 1e4; scale *= 10 {
		low, high := math.Inf(1), math.Inf(-1)
		for _, s := range list {
			v := math.Float64frombits(s.bits)
			n := math.Round(v * scale)
			if n/scale != v {
				low = math.Inf(-1)
				break
			}
			low, high = min(low, n), max(high, n)
		}
		if high-low < mostBins && math.Abs(low) < 1<<40 {
			if b.low, b.scale = math.Floor((low+high-mostBins)/2)+1, scale; b.count == nil {
				b.count = make([]uint8, mostBins)
			}
			return
		}
	}
	*b = bins{}
}

// drain takes what is counted out, by ascending bits, into a room that is longer than
// the bins. Those below zero stand behind, from the largest.
func (b *bins) drain(room []slot) []slot {
	n, zero := 0, int(min(max(-b.low, 0), mostBins))
	put := func(i int) {
		room[n] = slot{math.Float64bits((b.low + float64(i)) / b.scale), uint64(b.count[i]) * whole}
		n += int(min(b.count[i], 1)) // without a branch: which values there are can't be foreseen
	}
	for i := zero; i < mostBins; i++ {
		put(i)
	}
	for i := zero - 1; i >= 0; i-- {
		put(i)
	}
	clear(b.count)
	return room[:n]
}
