package tablexlsx

import (
	"fmt"
	"io"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// manyMaps is a calibration of n maps of rows × columns.
func manyMaps(b *testing.B, n, rows, columns int) *tables.Calibration {
	b.Helper()
	points := func(n int) []float64 {
		p := make([]float64, n)
		for i := range p {
			p[i] = 400 + 200*float64(i)
		}
		return p
	}
	x := tabletest.Must(tables.NewAxis("engine speed", "r/min", points(columns)))
	y := tabletest.Must(tables.NewAxis("load", "%", points(rows)))
	var c tables.Contents
	for i := range n {
		f := tables.Fields{ID: fmt.Sprintf("map.%04d", i), Unit: "deg", Resolution: 0.25, X: x, Y: y, Values: make([]float64, rows*columns)}
		for j := range f.Values {
			f.Values[j] = float64((i*7+j*13)%160) / 4
		}
		c.Tables = append(c.Tables, tabletest.Must(tables.NewTable(f)))
	}
	return tabletest.Must(tables.NewCalibration(c))
}

func BenchmarkWrite(b *testing.B) {
	for _, n := range []int{50, 500} {
		doc := manyMaps(b, n, 20, 20)
		b.Run(fmt.Sprintf("%dmaps", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := Write(io.Discard, doc); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkRead(b *testing.B) {
	for _, n := range []int{50, 500} {
		raw := written(b, manyMaps(b, n, 20, 20))
		b.Run(fmt.Sprintf("%dmaps", n), func(b *testing.B) {
			b.SetBytes(int64(len(raw)))
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := read(raw); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkWriteLarge writes one map of 1000 × 1000.
func BenchmarkWriteLarge(b *testing.B) {
	doc := manyMaps(b, 1, 1000, 1000)
	for b.Loop() {
		if err := Write(io.Discard, doc); err != nil {
			b.Fatal(err)
		}
	}
}
