package merge

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp"
	"calsplice/tables"
)

// surfaces merges three tables whose breakpoints differ onto the merged axes.
//
// A node that both sides have is merged by the three values, a node that one
// side has holds that side's value plus the difference that the other side made
// to the surface there, and a node that neither has (one side's new column
// across the other's new row) holds the base's surface plus both differences.
func (t *tableMerge) surfaces() {
	s, err := t.newSurfaces()
	if err != nil {
		t.whole("x")
		return
	}
	s.merge()
	if lostA := s.lost(s.a, s.b); len(lostA) > 0 {
		// The other side took away a breakpoint at which we made an edit that
		// nothing else shows. Ours stays, so the breakpoint does.
		again, err := t.newSurfaces()
		if err != nil {
			t.whole("x")
			return
		}
		again.restore(s, lostA)
		again.merge()
		s = again
	}
	t.f.X, t.f.Y = s.axis(s.px, t.f.X), s.axis(s.py, t.f.Y)
	t.f.Values = s.out
	t.r.Carried += s.carried
	s.report()
}

// grid is a table with its breakpoints as keys: an axis that the table lacks
// has the one key 0.
type grid struct {
	x, y   []float64
	values []float64
}

func (g *grid) at(x, y float64) (float64, bool) {
	i, j := index(g.y, y), index(g.x, x)
	if i < 0 || j < 0 {
		return 0, false
	}
	return g.values[i*len(g.x)+j], true
}

// table is the grid as a table, for the surface between its nodes.
func (g *grid) table() (*tables.Table, error) {
	x, err := tables.NewAxis("", "", g.x)
	if err != nil {
		return nil, err
	}
	y, err := tables.NewAxis("", "", g.y)
	if err != nil {
		return nil, err
	}
	return tables.NewTable(tables.Fields{ID: "t", X: x, Y: y, Values: g.values})
}

// lay is the grid's surface at other nodes, held at its edges.
func (g *grid) lay(x, y []float64) ([]float64, error) {
	p, err := g.table()
	if err != nil {
		return nil, err
	}
	to, err := (&grid{x, y, make([]float64, len(x)*len(y))}).table()
	if err != nil {
		return nil, err
	}
	values, _, err := interp.Lay(p, to.X(), to.Y())
	return values, err
}

// sideChange is what one side did to the base.
type sideChange struct {
	grid
	d     grid      // the difference surface, on the union of its axes and the base's; exactly 0 where nothing changed
	atP   []float64 // the difference at the merged nodes
	shown []float64 // at each node of d: the largest share of it that a merged node shows
}

// surfaceMerge is the merge of one table's surfaces in the making.
type surfaceMerge struct {
	t       *tableMerge
	o       grid
	a, b    *sideChange
	px, py  []float64
	keepX   []float64 // breakpoints that stay because ours has an edit there
	keepY   []float64
	clash   map[[2]float64]bool // nodes at which the other side took away what ours edited
	out     []float64
	carried int
	largest float64
}

func (t *tableMerge) newSurfaces() (*surfaceMerge, error) {
	s := &surfaceMerge{t: t, clash: map[[2]float64]bool{}}
	x := keyAxes(t.o.X(), t.a.X(), t.b.X(), t.f.X)
	y := keyAxes(t.o.Y(), t.a.Y(), t.b.Y(), t.f.Y)
	s.o = grid{x[0], y[0], t.o.Values()}
	s.a = &sideChange{grid: grid{x[1], y[1], t.a.Values()}}
	s.b = &sideChange{grid: grid{x[2], y[2], t.b.Values()}}
	s.px, s.py = x[3], y[3]
	for _, c := range []*sideChange{s.a, s.b} {
		if err := c.against(&s.o); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// keyAxes are the breakpoints of axes as keys. Where all are the same in
// different units, the base's stand for them.
func keyAxes(axes ...*tables.Axis) [][]float64 {
	keys := make([][]float64, len(axes))
	same := true
	for i, a := range axes {
		if a == nil {
			keys[i], same = []float64{0}, false
			continue
		}
		keys[i] = a.Points()
		same = same && sameBreakpoints(a, axes[0])
	}
	if same {
		for i := range keys {
			keys[i] = keys[0]
		}
	}
	return keys
}

// against makes the difference surface.
func (c *sideChange) against(o *grid) error {
	c.d = grid{x: union(c.x, o.x), y: union(c.y, o.y)}
	mine, err := c.lay(c.d.x, c.d.y)
	if err != nil {
		return err
	}
	base, err := o.lay(c.d.x, c.d.y)
	if err != nil {
		return err
	}
	sizes, err := magnitude(&c.grid, o, c.d.x, c.d.y)
	if err != nil {
		return err
	}
	c.d.values = make([]float64, len(mine))
	for i := range mine {
		d := mine[i] - base[i]
		if math.Abs(d) <= 1e-12*sizes[i] && !c.bothHave(o, i) {
			d = 0 // what interpolating twice leaves is no edit
		}
		c.d.values[i] = d
	}
	return nil
}

// bothHave reports whether the side and the base both have a node of the
// difference.
func (c *sideChange) bothHave(o *grid, i int) bool {
	x, y := c.d.x[i%len(c.d.x)], c.d.y[i/len(c.d.x)]
	return has(c.x, x) && has(c.y, y) && has(o.x, x) && has(o.y, y)
}

// magnitude is the size of the numbers that two surfaces are made of, at nodes.
func magnitude(a, b *grid, x, y []float64) ([]float64, error) {
	sum := make([]float64, len(x)*len(y))
	for _, g := range []*grid{a, b} {
		sizes := grid{g.x, g.y, make([]float64, len(g.values))}
		for i, v := range g.values {
			sizes.values[i] = math.Abs(v)
		}
		laid, err := sizes.lay(x, y)
		if err != nil {
			return nil, err
		}
		for i, v := range laid {
			sum[i] += v
		}
	}
	return sum, nil
}

func union(a, b []float64) []float64 {
	out := append(slices.Clone(a), b...)
	slices.Sort(out)
	return slices.Compact(out)
}

// merge fills in the merged cells.
func (s *surfaceMerge) merge() {
	var base, ofA, ofB []float64
	lay := func(g *grid) []float64 {
		v, err := g.lay(s.px, s.py)
		if err != nil {
			v = make([]float64, len(s.px)*len(s.py)) // axes are sound: not reached
		}
		return v
	}
	base, ofA, ofB = lay(&s.o), lay(&s.a.grid), lay(&s.b.grid)
	s.a.atP, s.b.atP = lay(&s.a.d), lay(&s.b.d)
	s.a.shown, s.b.shown = make([]float64, len(s.a.d.values)), make([]float64, len(s.b.d.values))
	s.out = make([]float64, len(base))
	for i := range s.out {
		x, y := s.px[i%len(s.px)], s.py[i/len(s.px)]
		a, inA := s.a.at(x, y)
		b, inB := s.b.at(x, y)
		dA, dB := s.a.atP[i], s.b.atP[i]
		switch {
		case inA && inB:
			s.out[i] = s.node(i, x, y, a, b)
		case inA && (has(s.keepX, x) || has(s.keepY, y)):
			s.out[i] = a
		case inA:
			s.out[i] = s.carry(a, dB)
			s.show(s.b, x, y, s.out[i]-a)
		case inB:
			s.out[i] = s.carry(b, dA)
			s.show(s.a, x, y, s.out[i]-b)
		default:
			s.out[i] = s.between(base[i], ofA[i], ofB[i], dA, dB)
			s.show(s.a, x, y, dA)
			s.show(s.b, x, y, dB)
		}
	}
}

// node merges a node that both sides have.
func (s *surfaceMerge) node(i int, x, y, a, b float64) float64 {
	o, inO := s.o.at(x, y)
	if tables.SameBit(a, b) || inO && tables.SameBit(b, o) {
		return a
	}
	if inO && tables.SameBit(a, o) {
		return b
	}
	if inO {
		if v, ok := s.t.tolerated(o, a, b); ok {
			s.t.r.Hidden++
			return v
		}
	}
	s.clash[[2]float64{x, y}] = true
	return a
}

// carry adds a difference to a value, at the table's resolution. What is less
// than half a step changes nothing.
func (s *surfaceMerge) carry(v, d float64) float64 {
	if d == 0 || math.IsNaN(d) || math.Abs(d) < s.t.resolution/2 {
		return v
	}
	w := s.round(v + d)
	if math.IsInf(w, 0) || math.IsNaN(w) || w == v {
		return v
	}
	s.carried++
	s.largest = max(s.largest, math.Abs(d))
	return w
}

// between is the value of a node that neither side has.
func (s *surfaceMerge) between(o, a, b, dA, dB float64) float64 {
	s.carried++
	s.largest = max(s.largest, math.Abs(dA), math.Abs(dB))
	w := o + (dA + dB)
	switch {
	case dA == 0 && dB == 0:
		w = o // so that swapping the sides gives the same zero
	case dA == 0:
		w = b
	case dB == 0:
		w = a
	}
	if math.IsInf(w, 0) || math.IsNaN(w) {
		w = o
	}
	return s.round(w)
}

func (s *surfaceMerge) round(v float64) float64 {
	t, err := tables.NewTable(tables.Fields{ID: "t", Resolution: s.t.resolution, Values: []float64{0}})
	if err != nil {
		return v
	}
	return t.Round(v)
}

// show notes that a merged node at x and y shows the edits of a side at the
// nodes of its difference around it, by so much.
func (s *surfaceMerge) show(c *sideChange, x, y, by float64) {
	if by == 0 || math.IsNaN(by) {
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

// lost lists the nodes at which a side made an edit that is not on the merged
// axes, because the other side took the breakpoint away, and that no merged
// node shows.
func (s *surfaceMerge) lost(c, other *sideChange) [][2]float64 {
	var list [][2]float64
	for j, y := range c.y {
		for i, x := range c.x {
			if has(s.px, x) && has(s.py, y) {
				continue
			}
			n := index(c.d.y, y)*len(c.d.x) + index(c.d.x, x)
			edited := c.d.values[n] != 0
			if o, ok := s.o.at(x, y); ok {
				edited = !tables.SameBit(o, c.values[j*len(c.x)+i])
			}
			if edited && c.shown[n] == 0 {
				list = append(list, [2]float64{x, y})
			}
		}
	}
	return list
}

// restore puts the breakpoints of lost edits back and marks the edits as in
// conflict.
func (s *surfaceMerge) restore(from *surfaceMerge, lost [][2]float64) {
	for _, p := range lost {
		if !has(from.px, p[0]) {
			s.keepX = append(s.keepX, p[0])
		}
		if !has(from.py, p[1]) {
			s.keepY = append(s.keepY, p[1])
		}
		s.clash[p] = true
	}
	s.keepX, s.keepY = union(s.keepX, nil), union(s.keepY, nil)
	s.px, s.py = union(s.px, s.keepX), union(s.py, s.keepY)
}

// axis is the merged axis with the merged keys.
func (s *surfaceMerge) axis(keys []float64, like *tables.Axis) *tables.Axis {
	if like == nil || like.Len() == len(keys) {
		return like // keys are only ever added
	}
	a, err := tables.NewAxisExtra(like.Quantity(), like.Unit(), keys, like.Extra())
	if err != nil {
		return like
	}
	return a
}

// report lists conflicts and says what was carried.
func (s *surfaceMerge) report() {
	for i := range s.out {
		x, y := s.px[i%len(s.px)], s.py[i/len(s.px)]
		if s.clash[[2]float64{x, y}] {
			s.conflict(i/len(s.px), i%len(s.px), "", x, y)
		}
	}
	for _, p := range s.lost(s.b, s.a) {
		if i, j := index(s.o.y, p[1]), index(s.o.x, p[0]); i >= 0 && j >= 0 {
			s.conflict(i, j, Original, p[0], p[1])
		} else {
			s.conflict(index(s.b.y, p[1]), index(s.b.x, p[0]), Theirs, p[0], p[1])
		}
	}
	if s.carried > 0 {
		s.t.say("%s on moved axes %s one side's value with the other side's change carried onto it, %s at most",
			tables.Plural(s.carried, "cell"), map[bool]string{true: "holds", false: "hold"}[s.carried == 1], tables.FormatValue(tables.Brief(s.largest)))
	}
	for _, c := range []*sideChange{s.a, s.b} {
		s.fading(c)
		s.widening(c)
	}
}

func (s *surfaceMerge) conflict(row, column int, in Side, x, y float64) {
	side := func(g *grid) ConflictSide {
		v, ok := g.at(x, y)
		return ConflictSide{Value: v, Absent: !ok}
	}
	c := Conflict{Table: s.t.f.ID, Row: row, Column: column, In: in,
		Base: side(&s.o), Ours: side(&s.a.grid), Theirs: side(&s.b.grid)}
	if s.t.f.X != nil {
		if c.X = &x; has(s.o.x, x) && !(has(s.a.x, x) && has(s.b.x, x)) {
			c.Gone = "x"
		}
	}
	if s.t.f.Y != nil {
		if c.Y = &y; has(s.o.y, y) && !(has(s.a.y, y) && has(s.b.y, y)) {
			c.Gone += "y"
		}
	}
	s.t.conflict(c)
}

// fading says where the top of a change went with its breakpoint: other nodes
// show the change, but less of it.
func (s *surfaceMerge) fading(c *sideChange) {
	worst, n := 0.0, 0
	var at [2]float64
	for j, y := range c.y {
		for i, x := range c.x {
			k := index(c.d.y, y)*len(c.d.x) + index(c.d.x, x)
			d := math.Abs(c.d.values[k])
			if o, ok := s.o.at(x, y); !ok || tables.SameBit(o, c.values[j*len(c.x)+i]) || has(s.px, x) && has(s.py, y) || c.shown[k] == 0 {
				continue
			}
			if loss := d - c.shown[k]; loss > max(s.t.resolution/2, 1e-9*d) {
				n++
				if loss > worst {
					worst, at = loss, [2]float64{x, y}
				}
			}
		}
	}
	if n > 0 {
		k := index(c.d.y, at[1])*len(c.d.x) + index(c.d.x, at[0])
		s.t.r.Caused = append(s.t.r.Caused, s.t.f.ID+": the change of "+signed(tables.Brief(c.d.values[k]))+" at "+coordinates(s.t.f, at)+
			" shows as "+tables.FormatValue(tables.Brief(c.shown[k]))+" at most, since its breakpoint is gone"+andMore(n-1))
	}
}

// widening says where a change reaches further than its edit did: a breakpoint
// beside the edit is gone, and between those that are left the change fades away
// over a longer way. The surfaces are bilinear, so the largest such change stands
// on a breakpoint of one of them.
func (s *surfaceMerge) widening(c *sideChange) {
	kept := slices.Clone(c.atP)
	for i := range kept {
		at := [2]float64{s.px[i%len(s.px)], s.py[i/len(s.px)]}
		if c == s.b && (s.clash[at] || has(s.keepX, at[0]) || has(s.keepY, at[1])) {
			kept[i] = 0 // ours is there
		}
	}
	now, err := (&grid{s.px, s.py, kept}).lay(c.d.x, c.d.y)
	if err != nil {
		return
	}
	largest := 0.0
	for _, d := range c.d.values {
		largest = max(largest, math.Abs(d))
	}
	var low, high, at [2]float64
	worst, n := 0.0, 0
	for i, d := range c.d.values {
		more := now[i] - d
		if math.Abs(now[i]) <= math.Abs(d) || !(math.Abs(more) > max(s.t.resolution/2, 1e-9*largest)) {
			continue
		}
		p := [2]float64{c.d.x[i%len(c.d.x)], c.d.y[i/len(c.d.x)]}
		for k := range p {
			if low[k], high[k] = min(low[k], p[k]), max(high[k], p[k]); n == 0 {
				low[k], high[k] = p[k], p[k]
			}
		}
		if n++; math.Abs(more) > math.Abs(worst) {
			worst, at = more, p
		}
	}
	if n > 0 {
		s.t.r.Caused = append(s.t.r.Caused, s.t.f.ID+": a change reaches further than its edit did, since a breakpoint beside it is gone: "+
			s.reach(low, high)+", "+signed(tables.Brief(worst))+" at most, at "+coordinates(s.t.f, at))
	}
}

// reach is a part of the table in axis units, to the merged breakpoints around
// it.
func (s *surfaceMerge) reach(low, high [2]float64) string {
	var parts []string
	for k, axis := range []*tables.Axis{s.t.f.X, s.t.f.Y} {
		if axis == nil {
			continue
		}
		points := [][]float64{s.px, s.py}[k]
		from, to := around(points, low[k]), around(points, high[k])
		parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s–%s %s", tables.Clean(axis.Quantity()),
			tables.FormatValue(points[from[0]]), tables.FormatValue(points[to[len(to)-1]]), tables.Clean(axis.Unit()))))
	}
	return strings.Join(parts, ", ")
}
