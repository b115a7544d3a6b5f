package surface

import (
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/tables"
)

// change is what one side did to the base, as a surface, so that the changes of
// both sides can be added.
type change struct {
	*tables.Table
	d        *tables.Table // the difference, on the breakpoints of both; exactly 0 where the side left the base alone
	atMerged []float64     // the difference at the merged cells
	shown    []float64     // of each cell of d: the largest share of it that a merged cell shows
}

// merging is a merge in the making.
type merging struct {
	*Sides
	*Merged
	o       *tables.Table
	a, b    *change
	to      tables.Axes // the merged ones
	asked   tables.Axes // these without the breakpoints that stay only because ours has an edit there
	clash   []bool
	largest float64 // change carried
}

// Merge merges three tables onto the merged axes.
//
// A cell that both sides have is merged by the three values, a cell that one
// side has holds that side's value plus the difference that the other side made
// to the surface there, and a cell that neither has (one side's new column
// across the other's new row) holds the base's surface plus both differences.
//
// Where theirs took away a breakpoint at which ours made an edit that nothing
// else shows, ours stays, and so the breakpoint does.
//
// Where an axis cannot be merged, or the cells on it, failed is its name.
func (s *Sides) Merge() (_ *Merged, failed string) {
	m := &merging{Sides: s, Merged: &Merged{}}
	o, a, b := s.Base.Axes(), s.Ours.Axes(), s.Theirs.Axes()
	for k, name := range []string{"x", "y"} {
		var ok bool
		if m.to[k], ok = mergeAxis(o[k], a[k], b[k]); !ok {
			return nil, name
		}
	}
	m.asked = m.to
	defer func() {
		switch r := recover().(type) {
		case nil:
		case beyond:
			failed = "x"
		default:
			panic(r)
		}
	}()
	if m.read() {
		// No surface is needed here, which makes the usual merge of a large table one
		// pass over its cells.
		m.cells()
	} else {
		m.surfaces()
	}
	m.X, m.Y = m.to[0], m.to[1]
	m.listClashes()
	return m.Merged, ""
}

// beyond is what ends a merge: a surface that cannot be computed, of values so large
// that their difference is no number, or of too many nodes.
type beyond struct{ error }

func must[V any](v V, err error) V {
	if err != nil {
		panic(beyond{err})
	}
	return v
}

// surfaceOf is a table of some values on axes.
func surfaceOf(on tables.Axes, values []float64, resolution float64) *tables.Table {
	return must(tables.NewTable(tables.Fields{ID: "t", Resolution: resolution, X: on[0], Y: on[1], Values: values}))
}

// read takes of the sides what a merge needs, and reports whether all cells
// correspond by index. An axis whose breakpoints are the same in all three and in
// the merged table, in whatever units, is the merged one: places are named, and
// found again, by its breakpoints.
func (m *merging) read() (oneGrid bool) {
	three := [3]*tables.Table{m.Base, m.Ours, m.Theirs}
	on := [3]tables.Axes{m.Base.Axes(), m.Ours.Axes(), m.Theirs.Axes()}
	oneGrid = true
	for k, to := range m.to {
		if base := on[0][k]; SameBreakpoints(on[1][k], base) && SameBreakpoints(on[2][k], base) && SameBreakpoints(to, base) {
			on[0][k], on[1][k], on[2][k] = to, to, to
		} else {
			oneGrid = false
		}
	}
	for i, t := range three {
		if oneGrid && t.Axes().SamePoints(m.to) {
			continue // it serves as it is, and a large table is not gone through once more
		}
		three[i] = surfaceOf(on[i], t.Values(), m.Resolution)
	}
	m.o, m.a, m.b = three[0], &change{Table: three[1]}, &change{Table: three[2]}
	return oneGrid
}

// cells merges three tables on one grid. Every cell is in all of them.
func (m *merging) cells() {
	o, b := m.o.Values(), m.b.Values()
	m.Values, m.clash = slices.Clone(m.a.Values()), make([]bool, len(o))
	for i, a := range m.Values {
		v, ok := m.cell(o[i], a, b[i], true)
		m.Values[i], m.clash[i] = v, !ok
	}
}

// surfaces merges tables on different grids.
func (m *merging) surfaces() {
	m.a.against(m.o)
	m.b.against(m.o)
	m.fill()
	// An edit of ours on a breakpoint that theirs removed may show in no merged cell.
	// It must not vanish: ours keeps the breakpoint, and the cell is a clash. What
	// theirs loses in the same way is a clash on the base's own grid: see listClashes.
	if lost := m.lost(m.a); len(lost) > 0 {
		for _, e := range lost {
			for k, a := range m.to {
				m.to[k] = must(With(a, e.at[k]))
			}
		}
		m.fill()
		for _, e := range lost {
			m.clash[m.to.Find(e.at)] = true
		}
	}
	m.report()
}

// readAll reads tables at every node of axes, held at their edges.
func readAll(on tables.Axes, list ...*tables.Table) (laid [][]float64) {
	for _, t := range list {
		laid = append(laid, must(interp.Lay(t, on)))
	}
	return laid
}

// against makes the difference surface.
func (c *change) against(o *tables.Table) {
	d := must(interp.Compare(o, c.Table))
	sizes := readAll(d.Axes, sizesOf(o), sizesOf(c.Table))
	for i, v := range d.Values {
		// A cell of both is compared as it stands: there any difference is an edit. What
		// interpolating twice leaves is none.
		if d.Status[i] != interp.Measured && math.Abs(v) <= 1e-12*(sizes[0][i]+sizes[1][i]) {
			d.Values[i] = 0
		}
	}
	c.d = surfaceOf(d.Axes, d.Values, 0)
}

// sizesOf is a table of the sizes of another's values.
func sizesOf(t *tables.Table) *tables.Table {
	sizes := slices.Clone(t.Values())
	for i, v := range sizes {
		sizes[i] = math.Abs(v)
	}
	t, _ = t.WithValues(sizes) // which are as finite as the values
	return t
}

// fill fills in the merged cells.
func (m *merging) fill() {
	laid := readAll(m.to, m.o, m.a.Table, m.b.Table, m.a.d, m.b.d)
	m.Values, m.clash = make([]float64, len(laid[0])), make([]bool, len(laid[0]))
	m.Settled, m.Carried, m.largest = 0, 0, 0
	for k, c := range []*change{m.a, m.b} {
		c.atMerged, c.shown = laid[3+k], make([]float64, len(c.d.Values()))
	}
	for i := range m.Values {
		p := m.to.At(i)
		a, inA := valueAt(m.a.Table, p)
		b, inB := valueAt(m.b.Table, p)
		dA, dB := m.a.atMerged[i], m.b.atMerged[i]
		v := a
		switch {
		case inA && inB:
			o, inO := valueAt(m.o, p)
			var ok bool
			v, ok = m.cell(o, a, b, inO)
			m.clash[i] = !ok
		// A column that was kept for one edit of ours is all ours: theirs, which has no
		// such column, says nothing of it.
		case inA && m.asked.Find(p) < 0:
		case inA:
			v = m.carry(a, dB)
			m.b.show(p, v-a)
		case inB:
			v = m.carry(b, dA)
			m.a.show(p, v-b)
		default:
			v = m.between(laid[0][i], laid[1][i], laid[2][i], dA, dB)
			m.a.show(p, dA)
			m.b.show(p, dB)
		}
		m.Values[i] = v
	}
}

// cell merges a cell that both sides have; inO is whether the base has it too.
// It reports false, and leaves ours, where both changed it differently.
func (m *merging) cell(o, a, b float64, inO bool) (float64, bool) {
	if tables.SameBit(a, b) {
		return a, true
	}
	if !inO {
		return a, false
	}
	if v, ok := Three(o, a, b, tables.SameBit); ok {
		return v, true
	}
	if v, ok := m.Settle(o, a, b); ok {
		m.Settled++
		return v, true
	}
	return a, false
}

// carry adds a difference to a value, at the table's resolution. What is less
// than half a step changes nothing.
func (m *merging) carry(v, d float64) float64 {
	w := m.o.Round(v + d)
	if d == 0 || math.Abs(d) < m.Resolution/2 || !finite(w) || w == v {
		return v
	}
	m.carried(d)
	return w
}

func (m *merging) carried(d float64) {
	m.Carried++
	m.largest = max(m.largest, math.Abs(d))
}

// between is the value of a cell that neither side has. A side that changed
// nothing there leaves the other's surface, bit for bit.
func (m *merging) between(o, a, b, dA, dB float64) float64 {
	m.carried(max(math.Abs(dA), math.Abs(dB)))
	// The two differences are added to each other first, so that the sum does not
	// depend on which side is ours.
	w := o + (dA + dB)
	switch {
	case dA == 0 && dB == 0 || !finite(w):
		w = o
	case dA == 0:
		w = b
	case dB == 0:
		w = a
	}
	return m.o.Round(w)
}

func finite(v float64) bool { return !math.IsInf(v, 0) && !math.IsNaN(v) }

// show notes that a merged cell shows the edits at the cells of the difference
// around it, by so much.
func (c *change) show(p tables.Coordinates, by float64) {
	if !(math.Abs(by) > 0) {
		return
	}
	for _, r := range around(c.d.Y(), p[1]) {
		for _, k := range around(c.d.X(), p[0]) {
			i := r*c.d.Columns() + k
			c.shown[i] = max(c.shown[i], math.Abs(by))
		}
	}
}

// around are the breakpoints whose values make that at v.
func around(a *tables.Axis, v float64) []int {
	if a == nil {
		return []int{0}
	}
	i, w := interp.Weights(a.Points(), v)
	switch {
	case w == 0 || a.Len() == 1:
		return []int{i}
	case w == 1:
		return []int{i + 1}
	}
	return []int{i, i + 1}
}

// goneEdit is an edit of one side that is in no merged cell, because the other side
// took its breakpoint away.
type goneEdit struct {
	at     tables.Coordinates
	by     float64
	shown  float64 // the largest share of it that a merged cell shows
	ofBase bool    // the base has the cell
}

func (m *merging) gone(c *change) (list []goneEdit) {
	for i, v := range c.Values() {
		p := c.Table.Axes().At(i)
		if m.to.Find(p) >= 0 {
			continue
		}
		k := c.d.Axes().Find(p)
		e := goneEdit{at: p, by: c.d.Values()[k], shown: c.shown[k]}
		edited := e.by != 0
		var o float64
		if o, e.ofBase = valueAt(m.o, p); e.ofBase {
			edited = !tables.SameBit(o, v)
		}
		if edited {
			list = append(list, e)
		}
	}
	return list
}

// lost lists the edits of a side that no merged cell shows.
func (m *merging) lost(c *change) []goneEdit {
	return slices.DeleteFunc(m.gone(c), func(e goneEdit) bool { return e.shown != 0 })
}

// listClashes lists the merged cells that both sides changed differently, and the
// edits of theirs that no cell shows.
func (m *merging) listClashes() {
	for i, clash := range m.clash {
		if clash {
			m.add("", m.to, m.to.At(i))
		}
	}
	if m.b.d == nil {
		return // on one grid nothing is lost
	}
	for _, e := range m.lost(m.b) {
		if e.ofBase {
			m.add("base", m.o.Axes(), e.at)
		} else {
			m.add("theirs", m.b.Table.Axes(), e.at)
		}
	}
}

// add lists a clash, whose row and column are those on some axes.
func (m *merging) add(in string, of tables.Axes, p tables.Coordinates) {
	i, columns := of.Find(p), of[0].Len()
	c := Clash{Row: i / columns, Column: i % columns, In: in}
	sides := [3]*tables.Table{m.o, m.a.Table, m.b.Table}
	for k, t := range sides {
		c.Values[k], c.Has[k] = valueAt(t, p)
	}
	for k, to := range []**float64{&c.X, &c.Y} {
		if m.to[k] == nil {
			continue
		}
		*to = &p[k]
		has := func(t *tables.Table) bool { return t.Axes()[k].Find(p[k]) >= 0 }
		if has(m.o) && !(has(m.a.Table) && has(m.b.Table)) {
			c.Gone += "xy"[k : k+1]
		}
	}
	m.Clashes = append(m.Clashes, c)
}
