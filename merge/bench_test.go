package merge

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"calsplice/tables"
)

// benchDocs are documents of so many cells in tables of 50 × 80, the second and
// the third with 5 % of the cells changed.
func benchDocs(cells int) (o, a, b *tables.Calibration) {
	r := rand.New(rand.NewPCG(1, 1))
	var docs [3]tables.Contents
	for i := range cells / 4000 {
		t := blockTable(r, 50, 80, 0.1, 0, 60)
		f := t.Fields()
		f.ID = fmt.Sprintf("t%03d", i)
		t = must(tables.NewTable(f))
		docs[0].Tables = append(docs[0].Tables, t)
		for k := 1; k < 3; k++ {
			edited := change(t, rectangle{0, 49, 0, 79}, func(v float64) float64 {
				if r.IntN(20) == 0 {
					return v + 1 + 5*r.Float64()
				}
				return v
			})
			docs[k].Tables = append(docs[k].Tables, edited)
		}
	}
	return must(tables.NewCalibration(docs[0])), must(tables.NewCalibration(docs[1])), must(tables.NewCalibration(docs[2]))
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

// BenchmarkBlocks has one table whose every cell changed, by one rule and by
// none.
func BenchmarkBlocks(b *testing.B) {
	for _, n := range []int{250, 500, 1000} {
		r := rand.New(rand.NewPCG(1, 2))
		t := blockTable(r, n, n, 0.1, 10, 60)
		all := rectangle{0, n - 1, 0, n - 1}
		for name, u := range map[string]*tables.Table{
			"rule":  change(t, all, func(v float64) float64 { return v * 1.05 }),
			"noise": change(t, all, func(v float64) float64 { return v * (0.5 + r.Float64()) }),
		} {
			b.Run(fmt.Sprintf("%s/%d", name, n*n), func(b *testing.B) {
				for b.Loop() {
					search(t, u)
				}
			})
		}
	}
}
