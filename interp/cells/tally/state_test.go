package tally

import (
	"encoding/binary"
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestDamagedCounts: what no counts are written as is refused, each beside what
// is read.
func TestDamagedCounts(t *testing.T) {
	head := func(kind, spare, light byte, n uint64) []byte {
		return binary.AppendUvarint([]byte{kind, spare, light}, n)
	}
	bits := func(b []byte, pairs ...uint64) []byte {
		for _, v := range pairs {
			b = binary.AppendUvarint(b, v)
		}
		return b
	}
	steps := func(b []byte, list ...int64) []byte {
		for _, v := range list {
			b = binary.AppendUvarint(binary.AppendVarint(b, v), 1)
		}
		return b
	}
	many := func(n int) []byte {
		return steps(head(decimals, 0, 20, uint64(n)), slices.Repeat([]int64{1}, n)...)
	}
	quarter := math.Float64bits(0.25)
	for _, c := range []struct {
		why string
		ok  bool
		b   []byte
	}{
		{"one value by its bits", true, bits(head(0, 0, 20, 1), quarter, 1)},
		{"two", true, bits(head(0, 0, 20, 2), quarter, 1, 1, 1)},
		{"the same twice", false, bits(head(0, 0, 20, 2), quarter, 1, 0, 1)},
		{"one before the other", false, bits(head(0, 0, 20, 2), quarter, 1, math.MaxUint64, 1)},
		{"no samples of a value", false, bits(head(0, 0, 20, 1), quarter, 0)},
		{"samples shifted out of their weight", false, bits(head(0, 0, 63, 1), quarter, 2)},
		{"bits shifted out", false, bits(head(0, 2, 20, 1), 1<<62, 1)},
		{"no number", false, bits(head(0, 0, 20, 1), math.Float64bits(math.NaN()), 1)},
		{"an infinite one", false, bits(head(0, 0, 20, 1), math.Float64bits(math.Inf(-1)), 1)},
		{"bits that a level does not keep", false, bits(head(1, 0, 20, 1), quarter+1, 1)},
		{"those that it keeps", true, bits(head(1, 0, 20, 1), quarter, 1)},
		{"the last level", true, bits(head(14, 0, 20, 1), quarter, 1)},
		{"one past it", false, bits(head(15, 0, 20, 1), quarter, 1)},
		{"63 bits off", false, bits(head(0, 64, 20, 1), 0, 1)},
		{"64 bits of weight off", false, bits(head(0, 0, 64, 1), quarter, 1)},
		{"a value cut off", false, bits(head(0, 0, 20, 3), quarter, 1)},
		{"decimals", true, steps(head(decimals|2, 0, 20, 3), -150, 150, 25)},
		{"of as many places as there are", true, steps(head(decimals|mostPlaces, 0, 20, 1), 1)},
		{"of more", false, steps(head(decimals|mostPlaces+1, 0, 20, 1), 1)},
		{"with bits off", false, steps(head(decimals, 1, 20, 1), 1)},
		{"one twice", false, steps(head(decimals, 0, 20, 2), 5, 0)},
		{"one backwards", false, steps(head(decimals, 0, 20, 2), 5, -1)},
		{"a step that runs over", false, steps(head(decimals, 0, 20, 2), 5, math.MaxInt64)},
		{"decimals of no weight", false, binary.AppendUvarint(binary.AppendVarint(head(decimals, 0, 20, 1), 5), 0)},
		{"one as low as there are", true, steps(head(decimals, 0, 20, 1), -mostDecimal)},
		{"one lower", false, steps(head(decimals, 0, 20, 1), -mostDecimal-1)},
		{"one as high", true, steps(head(decimals, 0, 20, 1), mostDecimal)},
		{"one higher", false, steps(head(decimals, 0, 20, 1), mostDecimal+1)},
		{"higher by its step", false, steps(head(decimals, 0, 20, 2), 5, mostDecimal)},
		{"as many values as a cell tells apart", true, many(distinct)},
		{"more", false, many(distinct + 1)},
	} {
		r := reader{b: append(slices.Clone(c.b), 1, 2)}
		if new(counts).read(&r); r.bad == c.ok || c.ok && len(r.b) != 2 {
			t.Errorf("%s: refused %v, %d bytes left", c.why, r.bad, len(r.b))
		}
	}
}

// readCounts reads counts from all of their bytes.
func readCounts(t rapid.TB, b []byte) *counts {
	t.Helper()
	r, c := &reader{b: b}, &counts{}
	if c.read(r); r.bad || len(r.b) > 0 {
		t.Fatalf("%x are no counts: %d bytes left", b, len(r.b))
	}
	return c
}

// TestCutCells: a cell is read whole or not at all, and in any number of parts it
// is what its samples are.
func TestCutCells(t *testing.T) {
	cell := func(values ...float64) *Cell {
		l, c := New(1), &Cell{}
		n := len(values)
		stays := make([]int32, n)
		for i := range stays {
			stays[i] = int32(i)
		}
		l.Add(&Shares{Places: 1, Cell: make([]int32, n), Stay: stays}, stretched(n), values, slices.Repeat([]bool{true}, n))
		l.Into(func(int) *Cell { return c })
		return c
	}
	good := cell(0.5, 0.75, -2, 0.5).Append(nil)
	for n := range good {
		if _, err := Decode(good[:n]); !errors.Is(err, ErrState) {
			t.Errorf("%d of %d bytes: %v", n, len(good), err)
		}
	}
	if _, err := Decode(append(slices.Clone(good), 0)); !errors.Is(err, ErrState) {
		t.Errorf("a byte more: %v", err)
	}
	none := slices.Clone(good)
	none[0] = 0
	wide := slices.Clone(good)
	copy(wide[9:], wide[1:9]) // high is low
	binary.LittleEndian.PutUint64(wide[1:], math.Float64bits(9))
	boundless := slices.Clone(good)
	binary.LittleEndian.PutUint64(boundless[9:], math.Float64bits(math.Inf(1)))
	for why, b := range map[string][]byte{"no visits": none, "low above high": wide, "no bound": boundless} {
		if _, err := Decode(b); !errors.Is(err, ErrState) {
			t.Errorf("%s: %v", why, err)
		}
	}
	both := cell(3, 0.5)
	read, err := Decode(good)
	if err != nil {
		t.Fatal(err)
	}
	both.Merge(read)
	merged := cell(0.5, 0.75, -2, 0.5)
	merged.Merge(cell(3, 0.5))
	if !slices.Equal(both.Append(nil), merged.Append(nil)) {
		t.Error("a cell added from its bytes is not the cell merged")
	}
	for i, want := range []float64{6, 6, (0.5 + 0.75 - 2 + 0.5 + 3 + 0.5) / 6, math.NaN(), 1, -2, 3, math.NaN(), 0} {
		if got := merged.Statistics(true, 1)[i]; !math.IsNaN(want) && math.Abs(got-want) > 1e-12 {
			t.Errorf("statistic %s is %v, want %v", Statistics[i], got, want)
		}
	}
}

func stretched(n int) []float64 {
	at := make([]float64, n)
	for i := range at {
		at[i] = float64(i)
	}
	return at
}
