package merge

import (
	"fmt"
	"slices"
	"strings"

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
	r := &resolver{c: merged.Contents(), tables: map[string]*tables.Table{}, order: merged.IDs()}
	for _, t := range merged.Tables() {
		r.tables[t.ID()] = t
	}
	var chosen []Conflict
	var takes []Side
	var bad []Mismatch
	for _, c := range conflicts {
		take := side(c)
		if take == "" {
			left = append(left, c)
			continue
		}
		chosen, takes = append(chosen, c), append(takes, take)
		bad = append(bad, r.guard(c, conflicts)...)
	}
	if len(bad) > 0 {
		return nil, nil, nil, &MismatchError{Mismatches: bad}
	}
	faults := brokenLines(chosen, left)
	for step := range 3 {
		for i, c := range chosen {
			if r.take = takes[i]; c.step(r.take) != step {
				continue
			}
			if err := r.settle(c); err != nil {
				faults = append(faults, &tables.Fault{Path: c.Place(), What: err.Error()})
			}
		}
	}
	if len(faults) > 0 {
		return nil, nil, nil, faults
	}
	if doc, err = r.finish(); err != nil {
		return nil, nil, nil, err
	}
	return doc, r.relocate(left), r.notes, nil
}

// step is when a conflict is settled: what takes a breakpoint away comes before
// what keeps it, so that a cell that is taken over stays, and both come when the
// cells beside them have their values.
func (c Conflict) step(take Side) int {
	switch {
	case c.lines() == nil:
		return 0
	case c.Side(take).Absent:
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

type resolver struct {
	take   Side
	c      tables.Contents
	tables map[string]*tables.Table
	order  []string
	cells  map[string][]float64 // values under change, by table, so that many cells cost one copy
	notes  []string
}

func (r *resolver) settle(c Conflict) error {
	side := c.Side(r.take)
	if r.take == Typed && !c.Types() {
		return fmt.Errorf("is not one value: take ours, theirs or base")
	}
	switch {
	case c.Cell():
		return r.cell(c, side)
	case c.Table == "" && c.Name == TableOrder:
		r.order = reorder(r.order, side.Order)
		return nil
	case c.Table == "":
		return r.document(c, side)
	case c.Name == WholeTable:
		return r.table(c, side)
	}
	return r.field(c, side)
}

func (r *resolver) document(c Conflict, side ConflictSide) error {
	if side.Contents == nil {
		return fmt.Errorf("has no %s side", r.take)
	}
	f, ok := tables.DocumentFields.Find(c.Name)
	if !ok {
		return fmt.Errorf("is no field of a document")
	}
	f.Take(&r.c, side.Contents)
	return nil
}

func (r *resolver) table(c Conflict, side ConflictSide) error {
	r.flush()
	if side.Table == nil {
		delete(r.tables, c.Table)
		r.order = slices.DeleteFunc(r.order, func(s string) bool { return s == c.Table })
		return nil
	}
	if r.tables[c.Table] == nil {
		at := 0
		for _, id := range c.After {
			if at = slices.Index(r.order, id) + 1; at > 0 {
				break
			}
		}
		r.order = slices.Insert(r.order, at, c.Table)
	}
	r.tables[c.Table] = side.Table
	return nil
}

func (r *resolver) field(c Conflict, side ConflictSide) error {
	t := r.tables[c.Table]
	if t == nil {
		return fmt.Errorf("the merged document has no such table")
	}
	r.flush()
	f := r.tables[c.Table].Fields()
	if side.Table != nil { // an axis, with the cells that stand on it
		g := side.Table.Fields()
		tables.TableFields.Take(c.together(), &f, &g)
	} else {
		g, ok := tables.TableFields.Find(c.Name)
		if !ok || side.Fields == nil {
			return fmt.Errorf("is no field of a table")
		}
		g.Take(&f, side.Fields)
	}
	return r.put(f)
}

// together are the fields that are resolved with the axis or the unit that a
// conflict is about.
func (c Conflict) together() []string {
	if c.Name == "unit" {
		return slices.Concat(tables.OnAxes, tables.InUnit)
	}
	return tables.OnAxes
}

func (r *resolver) put(f tables.Fields) error {
	t, err := tables.NewTable(f)
	if err == nil {
		r.tables[f.ID] = t
	}
	return err
}

// find is where a conflict's cell stands in a table: by its coordinates, or by
// its row and column where someone wrote the conflict without them.
func (r *resolver) find(c Conflict, t *tables.Table) (row, column int, there bool) {
	if c.X == nil && c.Y == nil && c.In == "" {
		return c.Row, c.Column, c.Row < t.Rows() && c.Column < t.Columns()
	}
	row, okRow := locate(t.Y(), c.Y)
	column, okColumn := locate(t.X(), c.X)
	return row, column, okRow && okColumn
}

// cell settles one cell.
func (r *resolver) cell(c Conflict, side ConflictSide) error {
	t := r.tables[c.Table]
	if t == nil {
		return fmt.Errorf("the merged document has no such table")
	}
	row, column, there := r.find(c, t)
	if there && c.X == nil && c.Y == nil {
		c.X, c.Y = pointAt(t.X(), column), pointAt(t.Y(), row)
	}
	if (c.X == nil) != (t.X() == nil) || (c.Y == nil) != (t.Y() == nil) {
		return fmt.Errorf("the merged table has other axes than the conflict")
	}
	switch {
	case side.Absent && (c.Ours.Absent || c.Theirs.Absent) && r.take != Original:
		return r.takeAway(c, t)
	case side.Absent && !there:
		return nil
	case side.Absent:
		return fmt.Errorf("the %s side has no such cell: take ours or theirs", r.take)
	case r.take == Typed && c.past(t, side.Value):
		return fmt.Errorf("%s is beyond the limits %s", cellText(side.Value), t.Limits().Text())
	case !there:
		return r.putBack(c, side)
	}
	values := r.cells[c.Table]
	if values == nil {
		values = slices.Clone(t.Values())
		if r.cells == nil {
			r.cells = map[string][]float64{}
		}
		r.cells[c.Table] = values
	}
	values[row*t.Columns()+column] = side.Value
	return nil
}

// past reports whether a typed value is beyond the table's limits, where no side
// is.
func (c Conflict) past(t *tables.Table, v float64) bool {
	sides := slices.DeleteFunc([]ConflictSide{c.Base, c.Ours, c.Theirs}, func(s ConflictSide) bool { return s.Absent })
	return !limited{v, t.Limits()}.inside() &&
		!slices.ContainsFunc(sides, func(s ConflictSide) bool { return !limited{s.Value, t.Limits()}.inside() })
}

func pointAt(a *tables.Axis, i int) *float64 {
	if a == nil {
		return nil
	}
	v := a.At(i)
	return &v
}

func locate(a *tables.Axis, at *float64) (int, bool) {
	if a == nil || at == nil {
		return 0, a == nil && at == nil
	}
	i := a.Find(*at)
	return i, i >= 0
}

// flush makes tables of the cells that were set.
func (r *resolver) flush() {
	for id, values := range r.cells {
		if t, err := r.tables[id].WithValues(values); err == nil {
			r.tables[id] = t
		}
	}
	r.cells = nil
}

// putBack inserts the breakpoints of a cell that the merged table lacks.
func (r *resolver) putBack(c Conflict, side ConflictSide) error {
	r.flush()
	f, err := surface.PutBack(r.tables[c.Table], c.X, c.Y, side.Value)
	if err != nil {
		return err
	}
	r.notes = append(r.notes, fmt.Sprintf("%s: breakpoint put back at %s for the cell taken", c.Table, surface.Coordinates(&f, at(c))))
	return r.put(f)
}

func at(c Conflict) (p [2]float64) {
	if c.X != nil {
		p[0] = *c.X
	}
	if c.Y != nil {
		p[1] = *c.Y
	}
	return p
}

// takeAway drops the breakpoints of a cell that the side taken does not have,
// as far as the table still has them.
func (r *resolver) takeAway(c Conflict, t *tables.Table) error {
	if c.Gone == "" {
		return fmt.Errorf(`lacks "gone": it does not say which breakpoint the %s side took away`, r.take)
	}
	column, columns := locate(t.X(), c.X)
	row, rows := locate(t.Y(), c.Y)
	columns, rows = columns && strings.Contains(c.Gone, "x"), rows && strings.Contains(c.Gone, "y")
	if !columns && !rows {
		return nil
	}
	r.flush()
	f := r.tables[c.Table].Fields()
	place := surface.Coordinates(&f, at(c))
	n := columnsOf(f.X)
	var values []float64
	for i, v := range f.Values {
		if !(columns && i%n == column) && !(rows && i/n == row) {
			values = append(values, v)
		}
	}
	f.Values = values
	for _, line := range []struct {
		axis **tables.Axis
		at   int
		gone bool
	}{{&f.X, column, columns}, {&f.Y, row, rows}} {
		a := *line.axis
		if !line.gone {
			continue
		}
		if a == nil || a.Len() == 1 {
			return fmt.Errorf("the table would have no breakpoint left")
		}
		var err error
		if *line.axis, err = tables.NewAxisExtra(a.Quantity(), a.Unit(), slices.Delete(slices.Clone(a.Points()), line.at, line.at+1), a.Extra()); err != nil {
			return err
		}
	}
	r.notes = append(r.notes, fmt.Sprintf("%s: breakpoint taken away at %s, as on the side taken", c.Table, place))
	return r.put(f)
}

func (r *resolver) finish() (*tables.Calibration, error) {
	r.flush()
	r.c.Tables = make([]*tables.Table, len(r.order))
	for i, id := range r.order {
		r.c.Tables[i] = r.tables[id]
	}
	return tables.NewCalibration(r.c)
}

// relocate gives the conflicts that are left the rows and columns that their
// cells have now.
func (r *resolver) relocate(left []Conflict) []Conflict {
	for i, c := range left {
		t := r.tables[c.Table]
		if !c.Cell() || t == nil {
			continue
		}
		row, okRow := locate(t.Y(), c.Y)
		column, okColumn := locate(t.X(), c.X)
		if okRow && okColumn {
			left[i].Row, left[i].Column, left[i].In = row, column, ""
		}
	}
	return left
}
