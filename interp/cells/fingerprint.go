package cells

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strings"

	"calsplice/tables"
)

// fingerprint tells two logs apart by the times and readings that were
// gathered from them, so that no log counts twice under two names. It keeps
// honest people from a mistake; it is no cryptographic hash.
type fingerprint []uint64 // by column

// add takes the next readings of a column, and of the one behind it if given,
// however many come at a time: two at once take as long as one.
func (f fingerprint) add(column int, values, next []float64) {
	h := f[column]
	if next == nil {
		for _, v := range values {
			h = mix(h, v)
		}
		f[column] = h
		return
	}
	h2 := f[column+1]
	for i, v := range next[:len(values)] {
		h, h2 = mix(h, values[i]), mix(h2, v)
	}
	f[column], f[column+1] = h, h2
}

func mix(h uint64, v float64) uint64 {
	return (bits.RotateLeft64(h, 23) ^ math.Float64bits(v)) * 0x9e3779b97f4a7c15
}

func (f fingerprint) String() string {
	var h uint64
	for _, column := range f {
		high, low := bits.Mul64(h^0xe7037ed1a0b428db, column^0x8ebc6af09c88c6e3)
		h = high ^ low
	}
	return fmt.Sprintf("%016x", h)
}

// logID is a log behind a grid.
type logID struct {
	Fingerprint string `json:"fingerprint"`
	Name        string `json:"name"`
}

// twice finds a log that is among the sources twice.
func (g *Grid) twice() error {
	logs := slices.Clone(g.logs)
	slices.SortFunc(logs, func(a, b logID) int {
		return strings.Compare(a.Fingerprint+a.Name, b.Fingerprint+b.Name)
	})
	for i := 1; i < len(logs); i++ {
		a, b := logs[i-1], logs[i]
		switch {
		case a.Fingerprint != b.Fingerprint:
		case a.Name == b.Name:
			return fmt.Errorf("log %s is there twice: its samples would count twice", tables.Clean(a.Name))
		default:
			return fmt.Errorf("logs %s and %s are the same log: its samples would count twice",
				tables.Clean(a.Name), tables.Clean(b.Name))
		}
	}
	return nil
}
