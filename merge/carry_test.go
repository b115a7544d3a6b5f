package merge

import (
	"math"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// lawCarried: where one side set breakpoints between the base's and the other
// changed values, a new breakpoint holds the first side's value plus the
// other's change there, which lies on the straight line between its changes at
// the breakpoints around; an old one holds the other's value to the bit.
func lawCarried(f tabletest.Failer, s tabletest.Source) {
	const rows, old = 2, 5
	doc := func(x, values []float64) *tables.Calibration {
		t := tabletest.Must(tables.NewTable(tables.Fields{ID: "a", Unit: "deg", Values: values,
			X: tabletest.Must(tables.NewAxis("engine speed", "r/min", x)), Y: tabletest.Must(tables.NewAxis("load", "kPa", []float64{20, 60}))}))
		return tabletest.Must(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{t}}))
	}
	any := func(n int) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = float64(s.N(400)-200) / 8
		}
		return v
	}
	x := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8} // the odd ones are new
	base, changes := any(rows*old), any(rows*old)
	edited := make([]float64, rows*old)
	for i, v := range base {
		edited[i] = v + changes[i]
	}
	finer, want := any(rows*len(x)), make([]float64, rows*len(x))
	for i := range finer {
		r, k := i/len(x), i%len(x)
		low := r*old + k/2
		if k%2 == 0 {
			finer[i], want[i] = base[low], edited[low]
			continue
		}
		want[i] = finer[i] + (changes[low]+changes[low+1])/2
	}
	o, moved, valued := doc([]float64{0, 2, 4, 6, 8}, base), doc(x, finer), doc([]float64{0, 2, 4, 6, 8}, edited)
	for _, sides := range [][2]*tables.Calibration{{moved, valued}, {valued, moved}} {
		r := merged(f, o, sides[0], sides[1])
		got := r.Merged.Table("a")
		if len(r.Conflicts) > 0 || got.X().Len() != len(x) {
			f.Fatalf("%d conflicts\n%s", len(r.Conflicts), say3(o, sides[0], sides[1], r))
		}
		for i, v := range got.Values() {
			if math.Abs(v-want[i]) > 1e-9 || i%len(x)%2 == 0 && v != want[i] {
				f.Fatalf("%s is %v, want %v\n%s", got.Place(i), v, want[i], say3(o, sides[0], sides[1], r))
			}
		}
	}
}

func TestCarriedLaw(t *testing.T) { tabletest.Always(t, 1_000, lawCarried) }

func FuzzCarried(f *testing.F) { fuzz(f, lawCarried) }
