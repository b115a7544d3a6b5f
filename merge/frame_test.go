package merge

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
	"calsplice/tables/unit"
)

// movedTable is a table on other axes, with where each row and column of the
// table before went; −1 for one that is gone.
type movedTable struct {
	f          tables.Fields
	rows, cols []int
	strange    bool // no breakpoint means what it did: another unit of the values, another quantity
	converted  bool // an axis in another unit
}

// moved reports whether the axes are others than a table's.
func (m *movedTable) moved(t *tables.Table) bool {
	return m.converted || !t.X().SamePoints(m.f.X) || !t.Y().SamePoints(m.f.Y)
}

func moveTable(s tabletest.Source, t *tables.Table) *movedTable {
	m := &movedTable{f: t.Fields(), rows: upTo(t.Rows()), cols: upTo(t.Columns())}
	m.f.Values = slices.Clone(m.f.Values)
	for range s.N(3) {
		switch s.N(8) {
		case 0:
			if m.f.Unit == "ms" {
				m.f.Unit, m.strange = "us", true
			}
		case 1:
			if m.f.Unit == "deg" {
				m.f.Unit = "°" // another spelling of the same
			}
		case 2, 3:
			m.convert(s)
		case 4:
			if m.f.X != nil && s.N(4) == 0 {
				m.f.X = tabletest.Must(tables.NewAxis(m.f.X.Quantity()+" too", m.f.X.Unit(), m.f.X.Points()))
				m.strange = true
			}
		default:
			m.shift(s)
		}
	}
	return m
}

func upTo(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}

func (m *movedTable) convert(s tabletest.Source) {
	axis := &m.f.X
	if m.f.Y != nil && s.N(2) == 0 {
		axis = &m.f.Y
	}
	if *axis == nil {
		return
	}
	to := map[string]string{"kPa": "bar", "V": "mV", "r/min": "rpm"}[(*axis).Unit()]
	if to == "" {
		return
	}
	m.converted = m.converted || to != "rpm"
	points := slices.Clone((*axis).Points())
	for i := range points {
		points[i] = tabletest.Must(unit.Convert(points[i], (*axis).Unit(), to))
	}
	*axis = tabletest.Must(tables.NewAxis((*axis).Quantity(), to, points))
}

// shift inserts a breakpoint into an axis or takes one out.
func (m *movedTable) shift(s tabletest.Source) {
	axis, at, alongX := &m.f.X, m.cols, true
	if m.f.Y != nil && s.N(2) == 0 {
		axis, at, alongX = &m.f.Y, m.rows, false
	}
	if *axis == nil {
		return
	}
	p := slices.Clone((*axis).Points())
	i, step := s.N(len(p)), 1
	if s.N(2) == 0 && len(p) > 1 {
		p, step = slices.Delete(p, i, i+1), -1
		dropLine(&m.f, alongX, i)
	} else {
		before := p[i] - 0.77
		if i > 0 {
			before = p[i-1] + float64((p[i]-p[i-1])*tabletest.Pick(s, []float64{0.26, 0.51, 0.03}))
		}
		p = slices.Insert(p, i, before)
		insertLine(&m.f, alongX, i, func() float64 { return tabletest.Pick(s, tabletest.Near) })
	}
	for k, to := range at {
		switch {
		case to == i && step < 0:
			at[k] = -1
		case to >= i:
			at[k] += step
		}
	}
	*axis = tabletest.Must(tables.NewAxis((*axis).Quantity(), (*axis).Unit(), p))
}

// between reports whether a row or column stands between those that it stood
// between before.
func between(at []int, size, i int) bool {
	left, right := -1, size
	if i > 0 {
		left = at[i-1]
	}
	if i+1 < len(at) {
		right = at[i+1]
	}
	return left == at[i]-1 && right == at[i]+1
}

// Law 10: an edit lands on its breakpoints or nowhere. The tables of a document
// are put into another order, their breakpoints inserted, taken away and
// converted, and the edits must be found on the very cells that were followed
// there, or the whole be refused.
func lawFrames(f tabletest.Failer, s tabletest.Source) {
	a := genDoc(s)
	b := a
	for _, t := range a.Tables() {
		values := slices.Clone(t.Values())
		for range s.N(4) {
			values[s.N(len(values))] = tabletest.Pick(s, tabletest.Near)
		}
		b = tabletest.Must(b.WithTable(tabletest.Must(t.WithValues(values))))
	}
	cs := Diff(a, b)
	c := a.Contents()
	c.Tables = slices.Clone(c.Tables)
	shuffle(s, c.Tables)
	moved := map[string]*movedTable{}
	for i, t := range c.Tables {
		m := moveTable(s, t)
		moved[t.ID()], c.Tables[i] = m, tabletest.Must(tables.NewTable(m.f))
	}
	here := tabletest.Must(tables.NewCalibration(c))

	refused, shifted, reach := false, false, false
	want := here
	for _, e := range cs.Edits {
		e := e.(*CellEdit)
		m := moved[e.Table]
		row, column := m.rows[e.Row], m.cols[e.Column]
		if refused = refused || m.strange || row < 0 || column < 0; refused {
			break
		}
		shifted = shifted || m.moved(a.Table(e.Table))
		reach = reach || !between(m.rows, m.f.Y.Len(), e.Row) || !between(m.cols, m.f.X.Len(), e.Column)
		t := want.Table(e.Table)
		values := slices.Clone(t.Values())
		values[row*t.Columns()+column] = e.To
		want = tabletest.Must(want.WithTable(tabletest.Must(t.WithValues(values))))
	}
	got, err := ApplyWith(here, cs, ApplyOptions{BeyondLimits: true})
	if refused {
		var bad *MismatchError
		if !errors.As(err, &bad) || !slices.ContainsFunc(bad.Mismatches, func(m Mismatch) bool { return m.Moved }) {
			f.Fatalf("applied where an edit's place is gone: %v\n%s%s", err, spell(a), spell(here))
		}
		return
	}
	if err != nil || !got.Document.Equal(want) {
		f.Fatalf("not on its breakpoints: %v\n%s%swanted\n%s", err, spell(a), spell(here), spell(want)) // promise: an edit lands on its breakpoints or nowhere
	}
	notes := strings.Join(got.Notes(), "\n")
	if strings.Contains(notes, "placed by breakpoints") != shifted || strings.Contains(notes, "other neighbours") != (reach && shifted) {
		f.Fatalf("on other axes: %v, between others: %v, but it says %q\n%s%s", shifted, reach, notes, spell(a), spell(here))
	}
	wantApplied(f, want, cs.Reverse(), here)
}

func TestFramesLaw(t *testing.T) { tabletest.Always(t, 3_000, lawFrames) }

func FuzzFrames(f *testing.F) { fuzz(f, lawFrames) }

// A breakpoint is found in another unit where rounding explains the difference,
// and where no other breakpoint comes to the same.
func TestPlaceAxis(t *testing.T) {
	axis := func(unit string, points ...float64) *tables.Axis {
		return tabletest.Must(tables.NewAxis("manifold pressure", unit, points))
	}
	for _, c := range []struct {
		why         string
		frame, here *tables.Axis
		want        []int
	}{
		{"two decimals of psi", axis("kPa", 80, 160), axis("psi", 11.6, 23.21), []int{0, 1}},
		{"two breakpoints that round to one", axis("kPa", 80, 80.01, 160), axis("psi", 11.6, 23.21), []int{-1, -1, 1}},
		{"three that round to one", axis("kPa", 79.99, 80, 80.01, 160), axis("psi", 11.6, 23.21), []int{-1, -1, -1, 1}},
		{"a lone one, exactly", axis("kPa", 80), axis("bar", 0.8), []int{0}},
		{"a lone one, rounded", axis("kPa", 80), axis("psi", 12), []int{-1}},
		{"no axis there", axis("kPa", 80, 160), nil, []int{-1, -1}},
		{"an axis where there was none", nil, axis("kPa", 80, 160), []int{-1}},
	} {
		if p := placeAxis(c.frame, c.here); !slices.Equal(p.at[1:len(p.at)-1], c.want) {
			t.Errorf("%s: at %v, want %v", c.why, p.at, c.want)
		}
	}
}
