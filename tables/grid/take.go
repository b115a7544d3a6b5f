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
	X, Y    *tables.AxisParts   // nil where not given
	Like    *tables.Table       // axes, unit and resolution of another table; nil for none
	Into    *tables.Calibration // takes the table in; nil for a calibration of its own
}

// Take makes a table of a grid and the calibration that holds it. Notes say what a
// person should know of it.
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
	switch {
	case err != nil:
	case o.Into == nil:
		doc, err = tables.NewCalibration(tables.Contents{Tables: []*tables.Table{t}})
	default:
		doc, err = o.Into.WithTable(t)
	}
	return doc, notes, tables.In(g.File, 0, 0, "", err)
}

// fields describes the table: the keys of the one that it replaces, or what a
// like one gives, with the grid's numbers.
func (o *Order) fields(g *Raw, like, old *tables.Table) (f tables.Fields, notes tables.Notes, err error) {
	w, err := o.wanted(like)
	if err != nil {
		return f, nil, err
	}
	cells, err := g.Shape(w)
	if err != nil {
		return f, nil, err
	}
	for _, s := range cells.Notes {
		notes.Addf("table %s: %s", o.ID, s)
	}
	switch {
	case old != nil:
		f = old.Fields()
	case like != nil:
		f = tables.Fields{Unit: like.Unit(), Resolution: like.Resolution()}
	}
	f.ID, f.Values, f.X, f.Y = o.ID, cells.Values, nil, nil
	if o.UnitSet && o.Unit != f.Unit {
		if err := o.unit(&f, old, &notes); err != nil {
			return f, nil, err
		}
	}
	if err := o.facts(&f); err != nil {
		return f, nil, err
	}
	if f.Role == "" {
		notes.Add(roleless(o.ID))
	}
	for i, to := range []**tables.Axis{&f.X, &f.Y} {
		if w.axes[i] == nil {
			continue
		}
		own := *w.axes[i]
		own.Points = cells.Points[i]
		if *to, err = own.Axis(); err != nil {
			return f, nil, tables.In(g.File, 0, 0, "", err)
		}
		if like != nil && !(*to).SamePoints(like.Axes()[i]) {
			notes.Addf("table %s: the grid brings breakpoints of its own for %c", o.ID, "xy"[i])
		}
	}
	return f, notes, nil
}

// facts takes in what was typed about the table.
func (o *Order) facts(f *tables.Fields) error {
	for _, name := range tables.TableFields.Typed() {
		text, given := o.Facts[name]
		if field, _ := tables.TableFields.Find(name); given {
			if err := field.Parse(f, text); err != nil {
				return fmt.Errorf("--%s: %w", name, err)
			}
		}
	}
	return nil
}

// wanted is what the grid is to become: a table on the axes that were given, or on
// those of another one.
func (o *Order) wanted(like *tables.Table) (w wanted, err error) {
	if w.axes = [2]*tables.AxisParts{o.X, o.Y}; like != nil {
		w = wanted{either: true}
	}
	for i, a := range like.Axes().All() {
		parts := a.Parts()
		w.axes[i] = &parts
	}
	if w.axes[0] == nil && w.axes[1] != nil {
		err = fmt.Errorf("--y needs --x too: x runs along the columns")
	}
	return w, err
}

// unit takes in the unit of the grid, which is another one than that of a table that
// was there: to the one that is replaced, which keeps its own, the numbers are
// converted.
func (o *Order) unit(f *tables.Fields, old *tables.Table, notes *tables.Notes) error {
	if old == nil {
		if f.Resolution > 0 {
			notes.Addf("table %s: the like table's resolution is in %s, and is left out", o.ID, f.Unit)
		}
		f.Unit, f.Resolution = o.Unit, 0
		return nil
	}
	for _, name := range []string{"limits", "resolution"} {
		if o.Facts[name] != "" {
			return fmt.Errorf("--%s: in %s as the grid, or in %s as table %s? Leave it out here: calsplice set gives it in %s", name, o.Unit, old.Unit(), o.ID, old.Unit())
		}
	}
	values, via, err := tableunit.Into(o.Into, old, o.Unit, f.Values)
	if err != nil {
		return fmt.Errorf("the table is in another unit than the grid: table %s: %w", o.ID, err)
	}
	how := ", the table's unit"
	if via != "" {
		how = " through " + via
	}
	f.Values = values
	notes.Addf("table %s: %s to %s%s", o.ID, o.Unit, old.Unit(), how)
	return nil
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
