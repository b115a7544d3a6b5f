package merge

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// lawStale: a change set meets a document that has moved on in some cells. It
// is refused where one of them lies further off than half the resolution, names
// exactly those, and applies where none does.
func lawStale(f tabletest.Failer, s tabletest.Source) {
	const rows, columns, step = 3, 4, 0.25
	resolution := tabletest.Pick(s, []float64{0, step, step})
	size := tabletest.Pick(s, []float64{1, step, step / 4}) // the last is an edit that is guarded exactly
	moves := []float64{0, 0, step / 4, -step / 4, step / 2, -step * 0.51, 3}
	axis := func(n int) *tables.Axis { return tabletest.Must(tables.NewAxis("load", "%", points[1:n+1])) }
	doc := func(values []float64) *tables.Calibration {
		t := tabletest.Must(tables.NewTable(tables.Fields{ID: "a", Unit: "V", Resolution: resolution, X: axis(columns), Y: axis(rows), Values: values}))
		return tabletest.Must(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{t}}))
	}
	var from, to, now []float64
	var want []string
	for i := range rows * columns {
		v := float64(i)
		next, move := v, tabletest.Pick(s, moves)
		if s.N(3) == 0 {
			next = v + size
			off := max(move, -move)
			if exact := resolution == 0 || size < step/2; exact && off > 0 || off >= step/2 {
				want = append(want, fmt.Sprint(i/columns, i%columns))
			}
		}
		from, to, now = append(from, v), append(to, next), append(now, v+move)
	}
	stale := doc(now)
	before := spell(stale)
	got, err := Apply(stale, Diff(doc(from), doc(to)))
	var m *MismatchError
	var named []string
	if errors.As(err, &m) {
		for _, x := range m.Mismatches {
			named = append(named, fmt.Sprint(x.Row, x.Column))
		}
	}
	if !slices.Equal(named, want) || (err == nil) != (len(want) == 0) || (got == nil) != (err != nil) {
		f.Fatalf("resolution %v, edits of %v: refused at %v, want %v\n%s%s", resolution, size, named, want, spell(doc(from)), before) // promise: all or nothing
	}
	if spell(stale) != before {
		f.Fatalf("the document that was refused is another now")
	}
}

func TestStaleIsRefusedWhole(t *testing.T) { tabletest.Always(t, 3_000, lawStale) }

func FuzzStale(f *testing.F) { fuzz(f, lawStale) }
