package changefile_test

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// BenchmarkChanges writes and reads a change set of 40,000 cells: 5 % of 2,000
// maps of 20 × 20.
func BenchmarkChanges(b *testing.B) {
	points := make([]float64, 20)
	for i := range points {
		points[i] = float64(i)
	}
	axis := tabletest.Must(tables.NewAxis("q", "V", points))
	doc := func(every int) *tables.Calibration {
		c := tables.Contents{}
		for i := range 2000 {
			f := tables.Fields{ID: fmt.Sprintf("map.%d", i), Unit: "deg", X: axis, Y: axis, Values: make([]float64, 400)}
			for j := range f.Values {
				f.Values[j] = float64(i*j) / 100
				if every > 0 && j%every == 0 {
					f.Values[j]++
				}
			}
			c.Tables = append(c.Tables, tabletest.Must(tables.NewTable(f)))
		}
		return tabletest.Must(tables.NewCalibration(c))
	}
	old, new := doc(0), doc(20)
	cs := merge.Diff(old, new)
	if len(cs.Edits) != 40000 {
		b.Fatal(len(cs.Edits))
	}
	for _, s := range []struct {
		name  string
		write func(io.Writer) error
		read  func([]byte) error
	}{
		{"JSON", func(w io.Writer) error { return changefile.WriteJSON(w, cs) }, func(data []byte) error {
			_, err := changefile.ParseJSON(data, "")
			return err
		}},
		{"CSV", func(w io.Writer) error { return changefile.WriteCSV(w, cs) }, func(data []byte) error {
			_, _, err := changefile.ParseCSV(data, "")
			return err
		}},
		{"patch", func(w io.Writer) error { return changefile.WritePatch(w, old, cs) }, nil},
	} {
		var text bytes.Buffer
		if err := s.write(&text); err != nil {
			b.Fatal(err)
		}
		b.Run(s.name+"/write", func(b *testing.B) {
			b.SetBytes(int64(text.Len()))
			for b.Loop() {
				if err := s.write(io.Discard); err != nil {
					b.Fatal(err)
				}
			}
		})
		if s.read == nil {
			continue
		}
		b.Run(s.name+"/read", func(b *testing.B) {
			b.SetBytes(int64(text.Len()))
			for b.Loop() {
				if err := s.read(text.Bytes()); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
