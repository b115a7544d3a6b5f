package sift

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strings"
)

// Fingerprint tells two logs apart by the times, operating points and readings
// that were taken from them, so that no log counts twice under two names. It
// keeps honest people from a mistake; it is no cryptographic hash.
type Fingerprint []uint64 // by channel

// Add takes the next readings of a channel, with their times and where the engine
// was. However many come at a time, the outcome is the same.
func (f Fingerprint) Add(channel int, time, x, y, values []float64) {
	time, x, y = time[:len(values)], x[:len(values)], y[:len(values)]
	h := f[channel]
	for i, v := range values {
		row := math.Float64bits(time[i]) ^ bits.RotateLeft64(math.Float64bits(x[i]), 16) ^
			bits.RotateLeft64(math.Float64bits(y[i]), 32) ^ bits.RotateLeft64(math.Float64bits(v), 48)
		// Turned before it is mixed, so that the same rows in another order differ.
		h = bits.RotateLeft64(h, 23) ^ row*0x9e3779b97f4a7c15
	}
	f[channel] = h
}

// String is the fingerprint of all channels, in their order, in 16 digits.
func (f Fingerprint) String() string {
	var h uint64
	for _, channel := range f {
		high, low := bits.Mul64(h^0xe7037ed1a0b428db, channel^0x8ebc6af09c88c6e3)
		h = high ^ low
	}
	return fmt.Sprintf("%016x", h)
}

// LogID is a log that was read.
type LogID struct {
	Fingerprint string `json:"fingerprint"`
	Name        string `json:"name"`
}

// Twice is an error where a log is among logs twice.
func Twice(logs []LogID) error {
	logs = slices.Clone(logs)
	slices.SortFunc(logs, func(a, b LogID) int {
		return strings.Compare(a.Fingerprint+a.Name, b.Fingerprint+b.Name)
	})
	for i := 1; i < len(logs); i++ {
		a, b := logs[i-1], logs[i]
		switch {
		case a.Fingerprint != b.Fingerprint:
		case a.Name == b.Name:
			return fmt.Errorf("log %s is there twice: its samples would count twice", a.Name)
		default:
			return fmt.Errorf("logs %s and %s are the same log: its samples would count twice",
				a.Name, b.Name)
		}
	}
	return nil
}
