package merge

import (
	"fmt"

	"calsplice/merge/surface"
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
	sides := surface.Sides{Base: t.o, Ours: t.a, Theirs: t.b, Resolution: t.resolution, Settle: t.tolerated}
	m, failed := sides.Merge()
	if failed != "" {
		t.whole(failed)
		return
	}
	t.f.X, t.f.Y, t.f.Values = m.X, m.Y, m.Values
	t.r.Hidden, t.r.Carried = t.r.Hidden+m.Settled, t.r.Carried+m.Carried
	for _, s := range m.Notes {
		t.say("%s", s)
	}
	for _, s := range m.Effects {
		t.r.SideEffects = append(t.r.SideEffects, t.f.ID+": "+s)
	}
	for _, c := range m.Clashes {
		side := func(k int) State { return State{Value: c.Values[k], Absent: !c.Has[k]} }
		t.conflict(Conflict{Table: t.f.ID, Row: c.Row, Column: c.Column, In: Side(c.In), X: c.X, Y: c.Y, Gone: c.Gone, Base: side(0), Ours: side(1), Theirs: side(2)})
	}
}

// oneSided is the table whose axes and cells are the merged ones as they are,
// because the other side left them alone or did the same; or nil.
func (t *tableMerge) oneSided() *tables.Table {
	same := func(p, q *tables.Table) bool {
		return p.X().Equal(q.X()) && p.Y().Equal(q.Y()) && tables.SameBits(p.Values(), q.Values())
	}
	if v, ok := surface.Three(t.o, t.a, t.b, same); ok {
		return v
	}
	return nil
}

// whole makes the axes and cells of a table one conflict, under the name of the
// axis that cannot be merged: ours stay, untouched.
func (t *tableMerge) whole(name string) {
	t.f.X, t.f.Y, t.f.Values = t.a.X(), t.a.Y(), t.a.Values()
	side := func(p *tables.Table) State {
		f := p.Fields()
		return State{Fields: &f, Table: p}
	}
	if name == "unit" {
		f := t.a.Fields()
		tables.TableFields.Take(tables.InUnit, t.f, &f)
	}
	t.conflict(Conflict{Table: t.f.ID, Name: name, Base: side(t.o), Ours: side(t.a), Theirs: side(t.b)})
}

// converted reports whether a side gave the values in another unit, and did not
// only name another one: that leaves the numbers, on other axes too.
func (t *tableMerge) converted(p *tables.Table) bool {
	if unit.Same(p.Unit(), t.o.Unit()) || tables.SameBits(p.Values(), t.o.Values()) {
		return false
	}
	// Of the cells that both have, a conversion changes every one that is not 0. A
	// side that left them all as they were named another unit for the same numbers;
	// where the two share no cell, the numbers are taken for converted.
	named := false
	for was, is := range kept(t.o, p) {
		if !tables.SameBit(t.o.Values()[was], p.Values()[is]) {
			return true
		}
		named = true
	}
	return !named
}

// baseInUnit brings the base into the unit that both sides converted to, so that
// the three compare, and a conflict's base can be taken. It reports false where
// the units do not convert.
func (t *tableMerge) baseInUnit() bool {
	c, err := unit.Find(t.o.Unit(), t.a.Unit())
	if err != nil {
		return false
	}
	f := t.o.Fields()
	f.Unit, f.Limits, f.Values = t.a.Unit(), nil, c.ApplyAll(f.Values)
	o, err := tables.NewTable(f)
	if err == nil {
		t.o = o
	}
	return err == nil
}

// unitsDiffer reports whether the values of the three are in different units.
// Then no single cell can be merged: the values, and all fields in that unit, form
// one conflict.
func (t *tableMerge) unitsDiffer() bool {
	a, b := t.converted(t.a), t.converted(t.b)
	// Both in the same new unit: the base is brought there, and all three compare.
	if a && b {
		return !unit.Same(t.a.Unit(), t.b.Unit()) || !t.baseInUnit()
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
	for k, was := range t.o.Axes() {
		renamed := func(p *tables.Table) bool {
			now := p.Axes()[k]
			return was != nil && now != nil && !unit.Same(now.Unit(), was.Unit()) && now.SamePoints(was)
		}
		if renamed(t.a) && edited(t.b) || renamed(t.b) && edited(t.a) {
			t.say("one side changed the unit of axis %s and left its breakpoints, the other changed values: check which unit the breakpoints are in", "xy"[k:k+1])
		}
	}
}

func (t *tableMerge) say(format string, args ...any) {
	t.r.Notes = append(t.r.Notes, t.f.ID+": "+fmt.Sprintf(format, args...))
}

// tolerated settles two edits of a cell by the tolerance that was asked for.
func (t *tableMerge) tolerated(o, a, b float64) (float64, bool) {
	if t.opt.Tolerance == nil {
		return 0, false
	}
	bound := t.opt.Tolerance.of(t.f.ID, t.o.Tolerance())
	switch {
	// Two edits that are one, or theirs is none: ours. Only ours is none: theirs.
	case bound.hides(a, b), bound.hides(b, o):
		return a, true
	case bound.hides(a, o):
		return b, true
	}
	return 0, false
}
