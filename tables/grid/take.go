package grid

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tablefile"
	"calsplice/tables/tableunit"
	"calsplice/tables/tablexlsx"
)

// Order says which table to make of a grid.
type Order struct {
	ID      string
	Unit    string // of the values; where not set, the like or replaced table's
	UnitSet bool
	Facts   map[string]string   // title, role, resolution, limits as a person types them; "" removes one
	X, Y    *AxisSpec           // nil where not given
	Like    *tables.Table       // axes, unit and resolution of another table; nil for none
	Into    *tables.Calibration // takes the table in; nil for a calibration of its own
}

// Take makes a table of a grid and the calibration that holds it. Said tells
// what a person should know of it.
func (o *Order) Take(g *Raw) (doc *tables.Calibration, notes []string, err error) {
	if o.Like != nil && (o.X != nil || o.Y != nil) {
		return nil, nil, fmt.Errorf("--like gives the axes already: leave out --x and --y, or --like")
	}
	var old *tables.Table
	if o.Into != nil {
		old = o.Into.Table(o.ID)
	}
	like := o.Like
	if like == nil && o.X == nil && o.Y == nil {
		like = old
	}
	if !o.UnitSet && like == nil && old == nil {
		return nil, nil, fmt.Errorf("take needs --unit UNIT, or --like")
	}
	f, notes, err := o.fields(g, like, old)
	if err != nil {
		return nil, nil, err
	}
	t, err := tables.NewTable(f)
	if err != nil {
		return nil, nil, tables.In(g.File, 0, 0, "", err)
	}
	if o.Into == nil {
		doc, err = tables.NewCalibration(tables.Contents{Tables: []*tables.Table{t}})
		return doc, notes, err
	}
	if doc, err = o.Into.WithTable(t); err != nil {
		return nil, nil, tables.In(g.File, 0, 0, "", err)
	}
	if old != nil && o.UnitSet && o.Unit != old.Unit() {
		// The table keeps its unit; the numbers are converted to it.
		var via []string
		if doc, via, err = tableunit.Convert(doc, o.ID, old.Unit()); err != nil {
			return nil, nil, fmt.Errorf("the table is in another unit than the grid: %w", err)
		}
		if len(via) == 0 {
			via = []string{fmt.Sprintf("table %s: %s to %s, the table's unit", o.ID, o.Unit, old.Unit())}
		}
		notes = append(notes, via...)
		if doc, err = keepSteps(doc, old); err != nil {
			return nil, nil, err
		}
	}
	return doc, notes, nil
}

// keepSteps gives a table whose numbers were converted its old limits and
// resolution back, which were in its own unit all along.
func keepSteps(doc *tables.Calibration, old *tables.Table) (*tables.Calibration, error) {
	f := doc.Table(old.ID()).Fields()
	f.Limits, f.Resolution = old.Limits(), old.Resolution()
	t, err := tables.NewTable(f)
	if err != nil {
		return nil, err
	}
	return doc.WithTable(t)
}

// fields describes the table: the keys of the one that it replaces, or what a
// like one gives, with the grid's numbers.
func (o *Order) fields(g *Raw, like, old *tables.Table) (f tables.Fields, notes []string, err error) {
	w, likes, specs := wanted{Either: like != nil}, like.Axes(), [2]*AxisSpec{o.X, o.Y}
	if like != nil {
		specs = [2]*AxisSpec{specOf(likes[0]), specOf(likes[1])}
	}
	if specs[0] == nil && specs[1] != nil {
		return f, nil, fmt.Errorf("--y needs --x too: x runs along the columns")
	}
	if x := specs[0]; x != nil {
		w.X, w.XPoints = true, x.Points
	}
	if y := specs[1]; y != nil {
		w.Y, w.YPoints = true, y.Points
	}
	cells, err := g.Shape(w)
	if err != nil {
		return f, nil, err
	}
	for _, s := range cells.Notes {
		notes = append(notes, fmt.Sprintf("table %s: %s", o.ID, s))
	}
	switch {
	case old != nil:
		f = old.Fields()
	case like != nil:
		f = tables.Fields{Unit: like.Unit(), Resolution: like.Resolution()}
	}
	f.ID, f.Values = o.ID, cells.Values
	if o.UnitSet {
		if old == nil && f.Resolution > 0 && f.Unit != o.Unit {
			f.Resolution = 0
			notes = append(notes, fmt.Sprintf("table %s: the like table's resolution is in %s, and is left out", o.ID, f.Unit))
		}
		f.Unit = o.Unit
	}
	for _, name := range tables.TableFields.Typed() {
		text, ok := o.Facts[name]
		if field, _ := tables.TableFields.Find(name); ok {
			if err := field.Parse(&f, text); err != nil {
				return f, nil, fmt.Errorf("--%s: %w", name, err)
			}
		}
	}
	if f.Role == "" {
		notes = append(notes, roleless(o.ID))
	}
	points := [2][]float64{cells.X, cells.Y}
	for i, to := range []**tables.Axis{&f.X, &f.Y} {
		if *to, err = axis(g, likes[i], specs[i], points[i]); err != nil {
			return f, nil, err
		}
		if likes[i] != nil && !(*to).SamePoints(likes[i]) {
			notes = append(notes, fmt.Sprintf("table %s: the grid brings breakpoints of its own for %c", o.ID, "xy"[i]))
		}
	}
	return f, notes, nil
}

// roleless says that nothing is computed with a table, and what role its id
// speaks for.
func roleless(id string) string {
	hint := "--role says what it means (calsplice help roles)"
	if r := tables.Role(id); slices.Contains(tables.Roles, r) {
		hint = "--role " + id + " says so"
	}
	return fmt.Sprintf("table %s has no role, so nothing is computed with it: %s", id, hint)
}

// specOf is an axis as a person would have named it, with its own breakpoints.
func specOf(a *tables.Axis) *AxisSpec {
	if a == nil {
		return nil
	}
	return &AxisSpec{a.Quantity(), a.Unit(), a.Points()}
}

// axis builds an axis; one that is like another keeps all of it.
func axis(g *Raw, like *tables.Axis, spec *AxisSpec, points []float64) (*tables.Axis, error) {
	if spec == nil {
		return nil, nil
	}
	var extra tables.Extra
	if like != nil {
		extra = like.Extra()
	}
	n, err := tables.NewAxisExtra(spec.Quantity, spec.Unit, points, extra)
	return n, tables.In(g.File, 0, 0, "", err)
}

// ReadBook reads a grid from a range of a workbook, such as "Sheet!B2:N20"; ""
// is its only sheet.
func ReadBook(path, address string) (*Raw, tables.Faults, error) {
	data, err := tablefile.Any(path, nil)
	if err != nil {
		return nil, nil, err
	}
	page, rows, cautions, err := tablexlsx.Range(data, path, address)
	if err != nil {
		return nil, cautions, err
	}
	g := &Raw{Reader: sheet.Reader{File: path, Sheet: page}, Cells: rows, Decimal: '.'} // its numbers are plain already
	raw, err := g.trim()
	return raw, cautions, err
}
