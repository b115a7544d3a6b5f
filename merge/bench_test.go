package merge

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// benchDocs are documents of so many cells in tables of 50 × 80, the second and
// the third with 5 % of the cells changed.
func benchDocs(cells int) (o, a, b *tables.Calibration) {
	r := rand.New(rand.NewPCG(1, 1))
	var docs [3]tables.Contents
	for i := range cells / 4000 {
		f := tables.Fields{ID: fmt.Sprintf("t%03d", i), Unit: "deg", Resolution: 0.1, X: count(80), Y: count(50), Values: make([]float64, 4000)}
		for k := range f.Values {
			f.Values[k] = float64(r.IntN(600)) / 10
		}
		docs[0].Tables = append(docs[0].Tables, tabletest.Must(tables.NewTable(f)))
		for k := 1; k < 3; k++ {
			g := f
			g.Values = slices.Clone(f.Values)
			for range len(g.Values) / 20 {
				g.Values[r.IntN(len(g.Values))] += float64(10+r.IntN(50)) / 10
			}
			docs[k].Tables = append(docs[k].Tables, tabletest.Must(tables.NewTable(g)))
		}
	}
	return tabletest.Must(tables.NewCalibration(docs[0])), tabletest.Must(tables.NewCalibration(docs[1])), tabletest.Must(tables.NewCalibration(docs[2]))
}

// Cost grows with the number of cells: the time of each row is twice that of
// the row above.
func bench(b *testing.B, run func(o, x, y *tables.Calibration)) {
	for _, cells := range []int{100_000, 200_000, 400_000, 800_000} {
		o, x, y := benchDocs(cells)
		b.Run(fmt.Sprint(cells), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				run(o, x, y)
			}
		})
	}
}

func BenchmarkDiff(b *testing.B) { bench(b, func(o, x, _ *tables.Calibration) { Diff(o, x) }) }

func BenchmarkApply(b *testing.B) {
	bench(b, func(o, x, _ *tables.Calibration) {
		if _, err := Apply(o, Diff(o, x)); err != nil {
			b.Fatal(err)
		}
	})
}

func BenchmarkMerge(b *testing.B) {
	bench(b, func(o, x, y *tables.Calibration) {
		if _, err := Merge(o, x, y, MergeOptions{}); err != nil {
			b.Fatal(err)
		}
	})
}

func BenchmarkCompare(b *testing.B) {
	bench(b, func(o, x, _ *tables.Calibration) { Compare(o, x, Tolerance{}, Selection{}) })
}

func count(n int) *tables.Axis {
	p := make([]float64, n)
	for i := range p {
		p[i] = float64(i)
	}
	return tabletest.Must(tables.NewAxis("load", "%", p))
}
