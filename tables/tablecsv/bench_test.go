package tablecsv_test

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tablecsv"
	"calsplice/tables/tabletest"
)

// BenchmarkDocument writes and reads 400 maps of 20 × 20.
func BenchmarkDocument(b *testing.B) {
	points := make([]float64, 20)
	for i := range points {
		points[i] = 400 + 200*float64(i)
	}
	x := tabletest.Must(tables.NewAxis("engine speed", "r/min", points))
	var c tables.Contents
	for i := range 400 {
		f := tables.Fields{ID: fmt.Sprintf("map.%04d", i), Unit: "deg", Resolution: 0.25, X: x, Y: x, Values: make([]float64, 400)}
		for j := range f.Values {
			f.Values[j] = float64((i*7+j*13)%160) / 4
		}
		c.Tables = append(c.Tables, tabletest.Must(tables.NewTable(f)))
	}
	doc := tabletest.Must(tables.NewCalibration(c))
	var text bytes.Buffer
	if err := tablecsv.Write(&text, doc); err != nil {
		b.Fatal(err)
	}
	b.Run("write", func(b *testing.B) {
		b.SetBytes(int64(text.Len()))
		b.ReportAllocs()
		for b.Loop() {
			tablecsv.Write(io.Discard, doc)
		}
	})
	b.Run("read", func(b *testing.B) {
		b.SetBytes(int64(text.Len()))
		b.ReportAllocs()
		for b.Loop() {
			if _, _, err := tablecsv.Parse(text.Bytes(), "x"); err != nil {
				b.Fatal(err)
			}
		}
	})
}
