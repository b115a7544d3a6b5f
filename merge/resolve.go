package merge

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"calsplice/interp"
	"calsplice/merge/surface"
	"calsplice/tables"
)

// Resolve settles conflicts of a merged document for one side: those that are
// selected. It gives the document, the conflicts that are left, and what was
// done beside taking a value over. Conflicts about no table are selected with
// all only.
//
// A document that does not hold what the merge left, or what resolving left
// since, is not the one that the conflicts are about, and the error is a
// [*MismatchError] that lists every such place.
//
// A cell that the merged axes lack, since one side took its breakpoint away, is
// put back with its breakpoint: the cells beside it hold the surface as it is.
// Where the side that is taken lacks the cell, its breakpoint is taken away.
func Resolve(merged *tables.Calibration, conflicts []Conflict, take Side, only Selection) (doc *tables.Calibration, left []Conflict, notes []string, err error) {
	return ResolveEach(merged, conflicts, func(c Conflict) Side {
		if only.Conflict(c) {
			return take
		}
		return ""
	})
}

// ResolveEach is [Resolve] with a side for each conflict; "" leaves it.
func ResolveEach(merged *tables.Calibration, conflicts []Conflict, side func(Conflict) Side) (doc *tables.Calibration, left []Conflict, notes []string, err error) {
	r := &resolver{draft: newDraft(merged)}
	var chosen []Conflict
	var bad []Mismatch
	for _, c := range conflicts {
		c = c.located(merged.Table(c.Table))
		if c.take = side(c); c.take == "" {
			left = append(left, c)
			continue
		}
		chosen = append(chosen, c)
		bad = append(bad, r.guard(c)...)
	}
	if len(bad) > 0 {
		return nil, nil, nil, &MismatchError{Mismatches: bad}
	}
	// All choices are guarded before the first is made: a resolution applies whole or
	// not at all, as a change set does.
	faults := brokenLines(chosen, left)
	slices.SortStableFunc(chosen, func(a, b Conflict) int { return a.step() - b.step() })
	for _, c := range chosen {
		if err := r.settle(c); err != nil {
			faults = append(faults, &tables.Fault{Path: c.Place(), What: err.Error()})
		}
	}
	if len(faults) > 0 {
		return nil, nil, nil, faults
	}
	if doc, err = r.finish(); err != nil {
		return nil, nil, nil, err
	}
	return doc, relocate(left, doc), r.notes, nil
}

// guard lists where the merged document holds neither what the merge left at a
// conflict's place, which is ours, nor what an earlier resolution may have put
// there. Cells are the same as they are to the guard of an edit: nearer than
// half the resolution. What is wrong with the conflict itself is not told here:
// settling says so.
func (r *resolver) guard(c Conflict) (bad []Mismatch) {
	if c.Cell() {
		return r.guardCell(c)
	}
	for _, s := range []Side{Original, Theirs, Ours} {
		e, err := r.edit(c, s)
		if err != nil {
			return nil
		}
		d := *r.draft
		d.bad, d.near = nil, nil
		if e.Of(TableOrder) {
			d.order = keepOnly(d.order, set(e.From.Order))
		}
		if d.guard(e); len(d.bad) == 0 {
			return nil
		}
		bad = d.bad
	}
	return bad
}

func (r *resolver) guardCell(c Conflict) []Mismatch {
	t := r.tables[c.Table]
	if t == nil {
		return nil // settling says so
	}
	m := Mismatch{Table: c.Table, Cell: true, Row: c.Row, Column: c.Column, Wanted: c.SideText(Ours), Found: "no such cell"}
	i := c.index(t.f.Axes())
	if i < 0 && (c.Ours.Absent || c.Theirs.Absent) {
		return nil
	}
	if i >= 0 {
		v := t.f.Values[i]
		for _, s := range []State{c.Ours, c.Theirs, c.Base} {
			if !s.Absent && near(v, s.Value, t.half) {
				return nil
			}
		}
		m.Row, m.Column, m.Found = i/t.f.X.Len(), i%t.f.X.Len(), cellText(v)
	}
	return []Mismatch{m}
}

// step is when a conflict is settled: what takes a breakpoint away comes before
// what keeps it, so that a cell that is taken over stays, and both come when the
// cells beside them have their values.
func (c Conflict) step() int {
	switch {
	case c.lines() == nil:
		return 0
	case c.Side(c.take).Absent:
		return 1
	}
	return 2
}

// lines names the breakpoints of a cell that one side took away and the other
// edited.
func (c Conflict) lines() (list []string) {
	if !c.Cell() || c.Ours.Absent == c.Theirs.Absent {
		return nil
	}
	if c.Gone != "y" {
		list = append(list, c.Table+" x "+coordinate(c.X))
	}
	if c.Gone != "x" {
		list = append(list, c.Table+" y "+coordinate(c.Y))
	}
	return list
}

// brokenLines refuses a choice for a part of a breakpoint's conflicts: taking
// the breakpoint away later would take the cells chosen now with it.
func brokenLines(chosen, left []Conflict) (faults tables.Faults) {
	open := map[string]bool{}
	for _, c := range left {
		for _, line := range c.lines() {
			open[line] = true
		}
	}
	for _, c := range chosen {
		if slices.ContainsFunc(c.lines(), func(line string) bool { return open[line] }) {
			faults = append(faults, &tables.Fault{Path: c.Place(),
				What: "one side took its breakpoint away, on which there are other conflicts: choose for all of them at once"})
		}
	}
	return faults
}

// resolver is the merged document while its conflicts are settled.
type resolver struct {
	*draft
	notes []string
}

// settle brings the document to what the side taken holds. A conflict of
// anything but a cell is an edit that expects that side.
func (r *resolver) settle(c Conflict) error {
	side := c.Side(c.take)
	switch t := r.tables[c.Table]; {
	case c.take == Typed && !c.Types():
		return fmt.Errorf("is not one value: take ours, theirs or base")
	case c.Table != "" && c.Name != WholeTable && t == nil:
		return fmt.Errorf("the merged document has no such table")
	case c.Cell():
		return r.cell(c, side, t)
	}
	e, err := r.edit(c, c.take)
	if err == nil {
		e.expect(r.draft)
	}
	return err
}

// edit is an edit that expects to find, and makes, what one side of a conflict
// holds. So its apply asks whether the document is at that side, and its expect
// takes the document there.
func (r *resolver) edit(c Conflict, take Side) (*FieldEdit, error) {
	side := c.Side(take)
	e := &FieldEdit{Table: c.Table, Names: []string{c.Name}, From: side, To: side}
	switch _, known := c.Field(); {
	case !known:
		return nil, fmt.Errorf("is no field of %s", whose(c.Table))
	case c.Name == WholeTable:
		if i := slices.IndexFunc(c.After, func(id string) bool { return r.index(id) >= 0 }); i >= 0 {
			e.After = c.After[i]
		}
		t := cmp.Or(side.Table, c.Ours.Table, c.Theirs.Table, c.Base.Table)
		if t == nil {
			return nil, fmt.Errorf("has no side with the table")
		} else if t.ID() != c.Table {
			return nil, fmt.Errorf("is about another table than %s, which it holds", t.ID())
		}
	case side.Table != nil: // an axis or the unit, with the cells that depend on it
		f := side.Table.Fields()
		e.Names, e.From.Fields = c.together(), &f
		e.To = e.From
	case slices.Contains(tables.OnAxes, c.Name) && side.Fields == nil:
		return nil, fmt.Errorf("has no %s side", take)
	}
	return e, nil
}

// together are the fields that are resolved with the axis or the unit that a
// conflict is about.
func (c Conflict) together() []string {
	if c.Name == "unit" {
		return slices.Concat(tables.OnAxes, tables.InUnit)
	}
	return tables.OnAxes
}

// located is the conflict with its cell's coordinates, where someone wrote it down by
// row and column alone.
func (c Conflict) located(t *tables.Table) Conflict {
	if !c.Cell() || t == nil || c.X != nil || c.Y != nil || c.In != "" || c.Row >= t.Rows() || c.Column >= t.Columns() {
		return c
	}
	axes := t.Axes()
	p := axes.At(c.Row*t.Columns() + c.Column)
	for k, at := range []**float64{&c.X, &c.Y} {
		if axes[k] != nil {
			*at = &p[k]
		}
	}
	return c
}

// fits reports whether the conflict has a coordinate along each of a table's axes, and
// no other.
func (c Conflict) fits(axes tables.Axes) bool {
	return (c.X == nil) == (axes[0] == nil) && (c.Y == nil) == (axes[1] == nil)
}

// index is which of a table's cells the conflict is about; −1 for none.
func (c Conflict) index(axes tables.Axes) int {
	if !c.fits(axes) || axes[0] == nil && c.Row+c.Column > 0 {
		return -1
	}
	return axes.Find(at(c))
}

// cell settles one cell.
func (r *resolver) cell(c Conflict, side State, t *tableDraft) error {
	i := c.index(t.f.Axes())
	switch {
	case !c.fits(t.f.Axes()):
		return fmt.Errorf("the merged table has other axes than the conflict")
	case side.Absent && (c.Ours.Absent || c.Theirs.Absent) && c.take != Original:
		if c.Gone == "" {
			return fmt.Errorf(`lacks "gone": it does not say which breakpoint the %s side took away`, c.take)
		}
		return r.repoint(c, t, "taken away at %s, as on the side taken", surface.Without, c.Gone)
	// The base never had the cell, and the merged table does not: nothing to do.
	case side.Absent && i < 0:
		return nil
	case side.Absent:
		return fmt.Errorf("the %s side has no such cell: take ours or theirs", c.take)
	case c.take == Typed && c.past(t.f.Limits, side.Value):
		return fmt.Errorf("%s is beyond the limits %s", cellText(side.Value), t.f.Limits.Text())
	case i < 0:
		if err := r.repoint(c, t, "put back at %s for the cell taken", surface.With, "xy"); err != nil {
			return err
		}
		i = c.index(t.f.Axes())
	}
	t.setCell(i, side.Value)
	return nil
}

// past reports whether a typed value is beyond the table's limits, where no side
// is.
func (c Conflict) past(limits *tables.Limits, v float64) bool {
	return !limited{v, limits}.inside() && !slices.ContainsFunc([]State{c.Base, c.Ours, c.Theirs},
		func(s State) bool { return !s.Absent && !limited{s.Value, limits}.inside() })
}

// repoint lays a table on axes with, or without, the breakpoints of a cell, and says so.
// Cells that stay are as they were, others hold the surface as it is.
func (r *resolver) repoint(c Conflict, t *tableDraft, done string, breakpoint func(a *tables.Axis, v float64) (*tables.Axis, error), of string) (err error) {
	was := t.f.Axes()
	to := was
	for i, name := range []string{"x", "y"} {
		if strings.Contains(of, name) {
			if to[i], err = breakpoint(was[i], at(c)[i]); err != nil {
				return fmt.Errorf("what is left of the table's breakpoints is not valid: %w", err)
			}
		}
	}
	if to == was {
		return nil
	}
	f := t.f
	f.Limits = nil // beside cells beyond them the surface is so too
	before, err := tables.NewTable(f)
	if err != nil {
		return err
	}
	after, err := interp.Resample(before, to, interp.Sample, interp.Hold)
	if err != nil {
		return err
	}
	r.notes = append(r.notes, fmt.Sprintf("%s: breakpoint "+done, c.Table, to.Where(at(c))))
	f = after.Table.Fields()
	f.Limits = t.f.Limits
	t.become(f)
	return nil
}

func at(c Conflict) (p tables.Coordinates) {
	if c.X != nil {
		p[0] = *c.X
	}
	if c.Y != nil {
		p[1] = *c.Y
	}
	return p
}

// relocate gives the conflicts that are left the rows and columns that their
// cells have now.
func relocate(left []Conflict, doc *tables.Calibration) []Conflict {
	for i, c := range left {
		t := doc.Table(c.Table)
		if !c.Cell() || t == nil {
			continue
		}
		if k := c.index(t.Axes()); k >= 0 {
			left[i].Row, left[i].Column, left[i].In = k/t.Columns(), k%t.Columns(), ""
		}
	}
	return left
}
