package merge

import (
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

func curve(x, values []float64, resolution float64) *tables.Calibration {
	axis := tabletest.Must(tables.NewAxis("engine speed", "r/min", x))
	t := tabletest.Must(tables.NewTable(tables.Fields{ID: "spark", Unit: "deg", Resolution: resolution, X: axis, Values: values}))
	return tabletest.Must(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{t}}))
}

// One side thins out breakpoints without changing the surface, the other edits a
// breakpoint beside one of them: all three have 30° at 3000 r/min, the merge 35.
func TestWidenedEditIsSaid(t *testing.T) {
	base := curve([]float64{1000, 2000, 3000, 4000}, []float64{10, 20, 30, 40}, 0)
	thinned := curve([]float64{1000, 2000, 4000}, []float64{10, 20, 40}, 0)
	const want = "spark: a change reaches further than its edit did, since a breakpoint beside it is gone: engine speed 2000–4000 r/min, + 5 at most, at engine speed 3000 r/min"
	for _, c := range []struct {
		why    string
		theirs []float64
		ours   *tables.Calibration
		want   string
	}{
		{"an edit beside what is gone", []float64{10, 20, 30, 50}, thinned, want},
		{"an edit further away", []float64{5, 20, 30, 40}, thinned, ""},
		{"nothing gone", []float64{10, 20, 30, 50}, curve([]float64{1000, 2000, 2500, 3000, 4000}, []float64{10, 20, 25, 30, 40}, 0), ""},
		{"removed", []float64{10, 20, 30, 30}, thinned, strings.Replace(want, "+ 5", "− 5", 1)},
	} {
		theirs := curve([]float64{1000, 2000, 3000, 4000}, c.theirs, 0)
		for _, sides := range [][2]*tables.Calibration{{c.ours, theirs}, {theirs, c.ours}} {
			r, err := Merge(base, sides[0], sides[1], MergeOptions{})
			if err != nil || len(r.Conflicts) > 0 {
				t.Fatal(err, r.Conflicts)
			}
			i := slices.IndexFunc(r.SideEffects, func(s string) bool { return strings.Contains(s, "reaches further") })
			if got := strings.Join(r.SideEffects[max(i, 0):max(i+1, 0)], ""); got != c.want {
				t.Errorf("%s: %q, want %q", c.why, got, c.want)
			}
		}
	}
}

// lawWidening: where one side only takes breakpoints away and the other only
// edits cells, the merged surface is the same as all three inputs wherever these
// are the same, or the merge says that a change reaches further.
func lawWidening(f tabletest.Failer, s tabletest.Source) {
	o := tabletest.Must(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{genMap(s)}}))
	fa := o.Tables()[0].Fields()
	fa.Values = slices.Clone(fa.Values)
	for range 1 + s.N(2) {
		mutateAxis(s, &fa)
	}
	a := tabletest.Must(o.WithTable(tabletest.Must(tables.NewTable(fa))))
	b := cellEdits(s, o)
	r := merged(f, o, a, b)
	m := r.Merged.Table("a")
	if len(r.Conflicts) > 0 || slices.ContainsFunc(r.SideEffects, func(s string) bool { return strings.Contains(s, "reaches further") }) {
		return
	}
	var all [4]*tables.Table
	for i, doc := range []*tables.Calibration{o, a, b, r.Merged} {
		all[i] = doc.Table("a")
	}
	largest := 0.0
	for i, v := range all[2].Values() {
		if d := math.Abs(v - all[0].Values()[i]); !(d <= largest) {
			largest = d
		}
	}
	at := func(t *tables.Table, x, y float64) float64 {
		g := grid{keyAxes(t.X())[0], keyAxes(t.Y())[0], t.Values()}
		v, err := g.lay([]float64{x}, []float64{y})
		if err != nil {
			f.Fatalf("%v", err)
		}
		return v[0]
	}
	for _, y := range keyAxes(all[0].Y())[0] {
		for _, x := range keyAxes(all[0].X())[0] {
			v := at(all[0], x, y)
			same := func(w float64) bool { return math.Abs(w-v) <= 1e-9*max(math.Abs(v), math.Abs(w)) }
			if !same(at(all[1], x, y)) || !same(at(all[2], x, y)) {
				continue
			}
			if w := at(m, x, y); math.Abs(w-v) > max(m.Resolution(), 1e-6*max(math.Abs(v), largest, math.Abs(w))) {
				f.Fatalf("at %v, %v all three have %v, the merge %v, and nothing is said\n%s", x, y, v, w, say3(o, a, b, r)) // promise: never silent
			}
		}
	}
}

func TestWideningLaw(t *testing.T) { tabletest.Always(t, 10_000, lawWidening) }
func FuzzWidening(f *testing.F)    { fuzz(f, lawWidening) }
