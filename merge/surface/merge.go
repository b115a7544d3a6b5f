package surface

import (
	"fmt"
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/tables"
)

// change is what one side did to the base, as a surface: 0 wherever the side
// left it alone, so that the changes of both sides can be added.
type change struct {
	grid
	d     grid      // the difference surface, on the union of its axes and the base's; exactly 0 where nothing changed
	atP   []float64 // the difference at the merged nodes
	shown []float64 // at each node of d: the largest share of it that a merged node shows
}

// merging is a merge in the making.
type merging struct {
	*Sides
	*Merged
	o            grid
	a, b         *change
	p            grid      // the merged nodes
	keepX, keepY []float64 // breakpoints that stay because ours has an edit there
	clash        map[[2]float64]bool
	step         *tables.Table // of the merged table's resolution, to round by
	largest      float64       // change carried
}

// Merge merges three tables whose breakpoints differ onto the merged axes.
//
// A node that both sides have is merged by the three values, a node that one
// side has holds that side's value plus the difference that the other side made
// to the surface there, and a node that neither has (one side's new column
// across the other's new row) holds the base's surface plus both differences.
//
// Where theirs took away a breakpoint at which ours made an edit that nothing
// else shows, ours stays, and so the breakpoint does.
func (s *Sides) Merge(x, y *tables.Axis) (*Merged, error) {
	if s.oneGrid(x, y) {
		return s.cells(x, y), nil
	}
	m, err := s.fill(x, y, nil)
	if err != nil {
		return nil, err
	}
	// An edit of ours on a breakpoint that theirs removed may show on no merged node.
	// It must not vanish: ours keeps the breakpoint, and the node is a clash. What
	// theirs loses in the same way is a clash on the base's own grid: see report.
	if lost := m.lost(m.a); len(lost) > 0 {
		if m, err = s.fill(x, y, lost); err != nil {
			return nil, err
		}
	}
	m.X, m.Y, m.Values = axis(m.p.x, x), axis(m.p.y, y), m.p.values
	m.report()
	return m.Merged, nil
}

// oneGrid reports whether the cells of all three and of the merged table
// correspond by index.
func (s *Sides) oneGrid(x, y *tables.Axis) bool {
	return !slices.ContainsFunc([]*tables.Table{s.Base, s.Ours, s.Theirs}, func(t *tables.Table) bool {
		return !SameBreakpoints(t.X(), x) || !SameBreakpoints(t.Y(), y)
	})
}

// cells merges three tables on one grid. Every node is in all of them.
func (s *Sides) cells(x, y *tables.Axis) *Merged {
	// No surface is needed here, which makes the usual merge of a large table one
	// pass over its cells.
	m := &merging{Sides: s, Merged: &Merged{X: x, Y: y, Values: slices.Clone(s.Ours.Values())}}
	o, b := s.Base.Values(), s.Theirs.Values()
	coordinate := func(a *tables.Axis, i int) *float64 {
		if a == nil {
			return nil
		}
		v := a.At(i)
		return &v
	}
	for i, a := range m.Values {
		v, ok := m.node(o[i], a, b[i], true)
		if m.Values[i] = v; ok {
			continue
		}
		row, column := i/s.Ours.Columns(), i%s.Ours.Columns()
		m.Clashes = append(m.Clashes, Clash{Row: row, Column: column, X: coordinate(x, column), Y: coordinate(y, row),
			Values: [3]float64{o[i], a, b[i]}, Has: [3]bool{true, true, true}})
	}
	return m.Merged
}

// fill merges onto axes, and onto the breakpoints of nodes at which ours stays
// whatever theirs did to them.
func (s *Sides) fill(px, py *tables.Axis, stay [][2]float64) (*merging, error) {
	m := &merging{Sides: s, Merged: &Merged{X: px, Y: py}, clash: map[[2]float64]bool{}}
	x := keys(s.Base.X(), s.Ours.X(), s.Theirs.X(), px)
	y := keys(s.Base.Y(), s.Ours.Y(), s.Theirs.Y(), py)
	m.o = grid{x[0], y[0], s.Base.Values()}
	m.a = &change{grid: grid{x[1], y[1], s.Ours.Values()}}
	m.b = &change{grid: grid{x[2], y[2], s.Theirs.Values()}}
	m.p = grid{x: x[3], y: y[3]}
	for _, c := range []*change{m.a, m.b} {
		if err := c.against(&m.o); err != nil {
			return nil, err
		}
	}
	for _, p := range stay {
		if !has(m.p.x, p[0]) {
			m.keepX = union(m.keepX, p[:1])
		}
		if !has(m.p.y, p[1]) {
			m.keepY = union(m.keepY, p[1:])
		}
		m.clash[p] = true
	}
	m.p.x, m.p.y = union(m.p.x, m.keepX), union(m.p.y, m.keepY)
	var err error
	if m.step, err = tables.NewTable(tables.Fields{ID: "t", Resolution: s.Resolution, Values: []float64{0}}); err != nil {
		return nil, err
	}
	return m, m.nodes()
}

// lay is the grid's surface at other nodes, held at its edges.
func (g *grid) lay(x, y []float64) (values []float64, err error) {
	var axes [4]*tables.Axis
	for i, points := range [4][]float64{g.x, g.y, x, y} {
		if axes[i], err = tables.NewAxis("", "", points); err != nil {
			return nil, err
		}
	}
	from, err := tables.NewTable(tables.Fields{ID: "t", X: axes[0], Y: axes[1], Values: g.values})
	if err != nil {
		return nil, err
	}
	values, _, err = interp.Lay(from, axes[2], axes[3])
	return values, err
}

// layAll lays several grids on the same nodes.
func layAll(x, y []float64, grids ...*grid) (list [][]float64, err error) {
	for _, g := range grids {
		laid, err := g.lay(x, y)
		if err != nil {
			return nil, err
		}
		list = append(list, laid)
	}
	return list, nil
}

// sizes is a grid of the sizes of another's values.
func (g *grid) sizes() *grid {
	s := grid{g.x, g.y, make([]float64, len(g.values))}
	for i, v := range g.values {
		s.values[i] = math.Abs(v)
	}
	return &s
}

// against makes the difference surface.
func (c *change) against(o *grid) error {
	c.d = grid{x: union(c.x, o.x), y: union(c.y, o.y)}
	laid, err := layAll(c.d.x, c.d.y, &c.grid, o, c.sizes(), o.sizes())
	if err != nil {
		return err
	}
	c.d.values = make([]float64, len(laid[0]))
	for i := range c.d.values {
		d := laid[0][i] - laid[1][i]
		x, y := c.d.node(i)
		_, mine := c.at(x, y)
		_, base := o.at(x, y)
		// A node of both is compared as it stands: there any difference is an edit.
		if math.Abs(d) <= 1e-12*(laid[2][i]+laid[3][i]) && !(mine && base) {
			d = 0 // what interpolating twice leaves is no edit
		}
		c.d.values[i] = d
	}
	return nil
}

// nodes fills in the merged cells.
func (m *merging) nodes() error {
	laid, err := layAll(m.p.x, m.p.y, &m.o, &m.a.grid, &m.b.grid, &m.a.d, &m.b.d)
	if err != nil {
		return err
	}
	m.a.atP, m.b.atP = laid[3], laid[4]
	m.a.shown, m.b.shown = make([]float64, len(m.a.d.values)), make([]float64, len(m.b.d.values))
	m.p.values = make([]float64, len(laid[0]))
	for i := range m.p.values {
		x, y := m.p.node(i)
		a, inA := m.a.at(x, y)
		b, inB := m.b.at(x, y)
		dA, dB := m.a.atP[i], m.b.atP[i]
		v := a
		switch {
		case inA && inB:
			o, inO := m.o.at(x, y)
			if v, ok := m.node(o, a, b, inO); ok {
				m.p.values[i] = v
				continue
			}
			m.clash[[2]float64{x, y}] = true
		// A column that was kept for one edit of ours is all ours: theirs, which has no
		// such column, says nothing of it.
		case inA && (has(m.keepX, x) || has(m.keepY, y)):
		case inA:
			v = m.carry(a, dB)
			m.b.show(x, y, v-a)
		case inB:
			v = m.carry(b, dA)
			m.a.show(x, y, v-b)
		default:
			v = m.between(laid[0][i], laid[1][i], laid[2][i], dA, dB)
			m.a.show(x, y, dA)
			m.b.show(x, y, dB)
		}
		m.p.values[i] = v
	}
	return nil
}

// node merges a node that both sides have; inO is whether the base has it too.
// It reports false, and leaves ours, where both changed it differently.
func (m *merging) node(o, a, b float64, inO bool) (float64, bool) {
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
	w := m.step.Round(v + d)
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

// between is the value of a node that neither side has. A side that changed
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
	return m.step.Round(w)
}

func finite(v float64) bool { return !math.IsInf(v, 0) && !math.IsNaN(v) }

// show notes that a merged node at x and y shows the edits at the nodes of the
// difference around it, by so much.
func (c *change) show(x, y, by float64) {
	if !(math.Abs(by) > 0) {
		return
	}
	for _, r := range around(c.d.y, y) {
		for _, k := range around(c.d.x, x) {
			i := r*len(c.d.x) + k
			c.shown[i] = max(c.shown[i], math.Abs(by))
		}
	}
}

// around are the nodes whose values make that at v.
func around(points []float64, v float64) []int {
	i, w := interp.Weights(points, v)
	switch {
	case w == 0 || len(points) == 1:
		return []int{i}
	case w == 1:
		return []int{i + 1}
	}
	return []int{i, i + 1}
}

// gone gives the nodes of a side that are not on the merged axes, because the
// other side took the breakpoint away, and where each stands in the difference.
// edited is whether the side made an edit there.
func (m *merging) gone(c *change, each func(x, y float64, k int, edited bool)) {
	for i, v := range c.values {
		x, y := c.node(i)
		// Its node is still there, and shows the edit itself.
		if has(m.p.x, x) && has(m.p.y, y) {
			continue
		}
		k := index(c.d.y, y)*len(c.d.x) + index(c.d.x, x)
		edited := c.d.values[k] != 0
		if o, ok := m.o.at(x, y); ok {
			edited = !tables.SameBit(o, v)
		}
		each(x, y, k, edited)
	}
}

// lost lists the nodes at which a side made an edit that no merged node shows.
func (m *merging) lost(c *change) (list [][2]float64) {
	m.gone(c, func(x, y float64, k int, edited bool) {
		if edited && c.shown[k] == 0 {
			list = append(list, [2]float64{x, y})
		}
	})
	return list
}

// report lists clashes and says what was carried.
func (m *merging) report() {
	for i := range m.p.values {
		if x, y := m.p.node(i); m.clash[[2]float64{x, y}] {
			m.add("", &m.p, x, y)
		}
	}
	for _, p := range m.lost(m.b) {
		if _, there := m.o.at(p[0], p[1]); there {
			m.add("base", &m.o, p[0], p[1])
		} else {
			m.add("theirs", &m.b.grid, p[0], p[1])
		}
	}
	if m.Carried > 0 {
		m.Notes = append(m.Notes, fmt.Sprintf("%s on moved axes: one side's value plus the other side's change, interpolated; largest %s",
			tables.Plural(m.Carried, "cell"), tables.FormatValue(tables.Brief(m.largest))))
	}
	for _, c := range []*change{m.a, m.b} {
		m.reduced(c)
		m.widened(c)
	}
}

// add lists a clash, whose place is that in a grid.
func (m *merging) add(in string, of *grid, x, y float64) {
	c := Clash{Row: index(of.y, y), Column: index(of.x, x), In: in}
	for k, g := range []*grid{&m.o, &m.a.grid, &m.b.grid} {
		c.Values[k], c.Has[k] = g.at(x, y)
	}
	if m.X != nil {
		if c.X = &x; has(m.o.x, x) && !(has(m.a.x, x) && has(m.b.x, x)) {
			c.Gone = "x"
		}
	}
	if m.Y != nil {
		if c.Y = &y; has(m.o.y, y) && !(has(m.a.y, y) && has(m.b.y, y)) {
			c.Gone += "y"
		}
	}
	m.Clashes = append(m.Clashes, c)
}
