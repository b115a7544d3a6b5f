package merge

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// tableMerge merges the axes and the cells of one table.
type tableMerge struct {
	*merger
	o, a, b    *tables.Table
	f          *tables.Fields // the merged table in the making
	resolution float64
}

// values merges axes and cells into t.f.
func (t *tableMerge) values() {
	t.warnOfUnit()
	if one := t.oneSided(); one != nil {
		t.f.X, t.f.Y, t.f.Values = one.X(), one.Y(), one.Values()
		return
	}
	switch name, ok := t.axes(); {
	case !ok:
		t.whole(name)
	case t.sameGrid():
		t.cells()
	default:
		t.surfaces()
	}
}

// oneSided is the table whose axes and cells are the merged ones as they are,
// because the other side left them alone or did the same; or nil.
func (t *tableMerge) oneSided() *tables.Table {
	same := func(p, q *tables.Table) bool {
		f, g := p.Fields(), q.Fields()
		return f.X.Equal(g.X) && f.Y.Equal(g.Y) && tables.SameBits(f.Values, g.Values)
	}
	if v, ok := three(t.o, t.a, t.b, same); ok {
		return v
	}
	return nil
}

// sameGrid reports whether the cells of all three and of the merged table
// correspond by index.
func (t *tableMerge) sameGrid() bool {
	x, y := t.f.X, t.f.Y
	for _, p := range []*tables.Table{t.o, t.a, t.b} {
		if !sameBreakpoints(p.X(), x) || !sameBreakpoints(p.Y(), y) {
			return false
		}
	}
	return true
}

// sameBreakpoints reports whether two axes have the same breakpoints, in
// whatever unit each gives them.
func sameBreakpoints(a, b *tables.Axis) bool {
	if a == nil || b == nil {
		return a == b
	}
	if a.SamePoints(b) {
		return true
	}
	if a.Len() != b.Len() || a.Unit() == b.Unit() || a.Quantity() != b.Quantity() {
		return false
	}
	c, err := unit.Find(a.Unit(), b.Unit())
	if err != nil {
		return false
	}
	p := make([]float64, a.Len())
	for i := range p {
		p[i] = c.Apply(a.At(i))
	}
	return sameDigits(p, b.Points(), 0)
}

// whole makes the axes and cells of a table one conflict, under the name of the
// axis that cannot be merged: ours stay, untouched.
func (t *tableMerge) whole(name string) {
	t.f.X, t.f.Y, t.f.Values = t.a.X(), t.a.Y(), t.a.Values()
	g, _ := tables.TableFields.Find(name)
	side := func(p *tables.Table) ConflictSide {
		f := p.Fields()
		s := fieldSide(g, &f)
		s.Table = p
		return s
	}
	if name == "unit" {
		f := t.a.Fields()
		tables.TableFields.Take(tables.InUnit, t.f, &f)
	}
	t.conflict(Conflict{Table: t.f.ID, Name: name, Base: side(t.o), Ours: side(t.a), Theirs: side(t.b)})
}

// cells merges three tables on one grid, cell by cell.
func (t *tableMerge) cells() {
	o, a, b := t.o.Values(), t.a.Values(), t.b.Values()
	out, mine := a, false
	n := t.o.Columns()
	for i := range o {
		if tables.SameBit(a[i], b[i]) || tables.SameBit(b[i], o[i]) {
			continue
		}
		if tables.SameBit(a[i], o[i]) {
			if !mine {
				out, mine = slices.Clone(a), true
			}
			out[i] = b[i]
			continue
		}
		if v, ok := t.tolerated(o[i], a[i], b[i]); ok {
			t.r.Hidden++
			if !tables.SameBit(v, a[i]) {
				if !mine {
					out, mine = slices.Clone(a), true
				}
				out[i] = v
			}
			continue
		}
		t.conflict(t.cell(i/n, i%n, o[i], a[i], b[i]))
	}
	t.f.Values = out
}

// converted reports whether a side gave the values in another unit.
func (t *tableMerge) converted(p *tables.Table) bool {
	return !unit.Same(p.Unit(), t.o.Unit()) && !tables.SameBits(p.Values(), t.o.Values())
}

// wary reports whether the sides' values are in different units: then no cell
// of the other side's can be taken over, and the values with all that is given
// in their unit are one conflict.
func (t *tableMerge) wary() bool {
	a, b := t.converted(t.a), t.converted(t.b)
	if a && b {
		return !unit.Same(t.a.Unit(), t.b.Unit())
	}
	return a != b && t.oneSided() == nil
}

// warnOfUnit says where one side named another unit, of the values or of an
// axis, and the other changed values: both edits are kept, but a person has to
// look.
func (t *tableMerge) warnOfUnit() {
	renamed := func(p *tables.Table) bool { return !unit.Same(p.Unit(), t.o.Unit()) && !t.converted(p) }
	edited := func(p *tables.Table) bool { return !tables.SameBits(p.Values(), t.o.Values()) }
	if renamed(t.a) && edited(t.b) || renamed(t.b) && edited(t.a) {
		t.say("one side changed the unit, the other values: check which unit they are in")
	}
	for _, axis := range []struct {
		name string
		of   func(*tables.Table) *tables.Axis
	}{{"x", (*tables.Table).X}, {"y", (*tables.Table).Y}} {
		renamed := func(p *tables.Table) bool {
			was, now := axis.of(t.o), axis.of(p)
			return was != nil && now != nil && !unit.Same(now.Unit(), was.Unit()) && now.SamePoints(was)
		}
		if renamed(t.a) && edited(t.b) || renamed(t.b) && edited(t.a) {
			t.say("one side changed the unit of axis %s and left its breakpoints, the other changed values: check which unit the breakpoints are in", axis.name)
		}
	}
}

func (t *tableMerge) say(format string, args ...any) {
	t.r.Said = append(t.r.Said, t.f.ID+": "+fmt.Sprintf(format, args...))
}

// tolerated settles two edits of a cell by the tolerance that was asked for.
func (t *tableMerge) tolerated(o, a, b float64) (float64, bool) {
	if t.opt.Tolerance == nil {
		return 0, false
	}
	bound := t.opt.Tolerance.of(t.f.ID, t.o.Tolerance())
	switch {
	case bound.hides(a, b), bound.hides(b, o):
		return a, true
	case bound.hides(a, o):
		return b, true
	}
	return 0, false
}

// cell is a conflict of one cell of the merged table.
func (t *tableMerge) cell(row, column int, o, a, b float64) Conflict {
	c := Conflict{Table: t.f.ID, Row: row, Column: column,
		Base: ConflictSide{Value: o}, Ours: ConflictSide{Value: a}, Theirs: ConflictSide{Value: b}}
	if t.f.X != nil {
		x := t.f.X.At(column)
		c.X = &x
	}
	if t.f.Y != nil {
		y := t.f.Y.At(row)
		c.Y = &y
	}
	return c
}
