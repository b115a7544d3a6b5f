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

// add takes a column's next readings, however many come at a time.
func (f fingerprint) add(column int, values []float64) {
	h := f[column]
	for _, v := range values {
		h = (bits.RotateLeft64(h, 23) ^ math.Float64bits(v)) * 0x9e3779b97f4a7c15
	}
	f[column] = h
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
