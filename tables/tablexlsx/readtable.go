package tablexlsx

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tablexlsx/book"
)

func compactJSON(text string) (string, error) {
	var b bytes.Buffer
	if err := json.Compact(&b, []byte(text)); err != nil {
		return "", errors.New(tables.Quote(text) + " is not JSON")
	}
	return b.String(), nil
}

// tableReader reads one table's sheet.
type tableReader struct {
	*Reader
	s      *book.Sheet
	f      tables.Fields
	seen   map[string]int // a row's name, and where it stands
	extra  map[string]*[]tables.ExtraKey
	values int // the row "value" or "values"
	empty  bool
}

// Table reads a table's sheet, or is nil where that has faults. Empty cells are
// faults but where they are allowed.
func (r *Reader) Table(s *book.Sheet, empty bool) *tables.Table {
	t := &tableReader{Reader: r, s: s, seen: map[string]int{}, empty: empty,
		extra: map[string]*[]tables.ExtraKey{"": {}, "x.": {}, "y.": {}}}
	before := len(r.Faults)
	after := 0 // the last row of the grid
	for _, row := range s.Rows() {
		if row <= after {
			continue
		}
		name := r.Text(s, row, 1)
		if remark(name) {
			continue
		}
		if !strings.Contains(name, "x-") {
			name = strings.TrimSpace(name)
		}
		if first, ok := t.seen[name]; ok && name != "" {
			r.Fault(s, row, 1, "row %s stands in row %d already", tables.Quote(name), first)
			continue
		}
		t.seen[name] = row
		if name == rowValues || name == rowValue {
			t.values = row
			after = t.gridEnd(row)
			continue
		}
		t.fact(name, row)
	}
	for _, need := range []string{rowTable, rowUnit} {
		if t.seen[need] == 0 {
			r.Fault(s, 0, 0, "the sheet has no row %q", need)
		}
	}
	if t.values == 0 {
		r.Fault(s, 0, 0, "the sheet has no row %q or %q", rowValues, rowValue)
	} else {
		t.grid()
	}
	if len(r.Faults) > before {
		return nil
	}
	t.f.Extra = sorted(*t.extra[""])
	made, err := tables.NewTable(t.f)
	if err != nil {
		r.Fault(s, 0, 0, "%v", err)
		return nil
	}
	t.comments()
	return made
}

// gridEnd is the last row of the block that begins under a row "values": the
// breakpoints, a row of values at least, and whatever follows without a gap, up
// to a row of facts.
func (t *tableReader) gridEnd(row int) int {
	if t.s.At(row, 1).Text == rowValue {
		return row
	}
	end := row + 2
	for t.s.Width(end+1) > 0 && !isFact(t.s.At(end+1, 1).Text) {
		end++
	}
	return end
}

func (t *tableReader) fact(name string, row int) {
	r, s, next := t.Reader, t.s, 3
	switch name {
	case rowTable:
		t.f.ID = strings.TrimSpace(r.Text(s, row, 2))
	case rowXQuantity, rowXUnit, rowYQuantity, rowYUnit:
		r.Text(s, row, 2)
	default:
		f, ok := tables.TableFields.Find(name)
		if !ok || slices.Contains(tables.OnAxes, name) || strings.HasPrefix(name, "x-") {
			t.other(name, row)
			return
		}
		next = readField(r, f, &t.f, s, row, 2)
	}
	r.Nothing(s, row, next)
}

func (t *tableReader) other(name string, row int) {
	for _, prefix := range []string{"x.", "y.", ""} {
		if strings.HasPrefix(name, prefix+"x-") {
			t.keep(t.extra[prefix], strings.TrimPrefix(name, prefix), t.s, row, 2)
			return
		}
	}
	if name == "" {
		t.Nothing(t.s, row, 2)
		return
	}
	t.Fault(t.s, row, 1, "%s is no row of a table", tables.Quote(name))
}

// axisText is the quantity or the unit of an axis, and whether the sheet has
// its row.
func (t *tableReader) axisText(row string) (string, bool) {
	at, ok := t.seen[row]
	return t.s.At(at, 2).Text, ok
}

func (t *tableReader) grid() {
	s, r := t.s, t.values
	if s.At(r, 1).Text == rowValue {
		t.f.Values = []float64{t.value(r, 2)}
		t.Nothing(s, r, 3)
		return
	}
	_, haveQ := t.axisText(rowYQuantity)
	_, haveU := t.axisText(rowYUnit)
	twoAxes := haveQ || haveU
	last := s.Width(r + 1)
	if last < 2 {
		t.blankGrid(r, twoAxes)
		return
	}
	end := t.gridEnd(r)
	if t.strays(r+3, end) {
		return
	}
	t.f.X = t.axis(rowXQuantity, rowXUnit, "x.", last-1, func(i int) (int, int) { return r + 1, 2 + i })
	if twoAxes {
		t.f.Y = t.axis(rowYQuantity, rowYUnit, "y.", end-r-1, func(i int) (int, int) { return r + 2 + i, 1 })
	} else if end > r+2 {
		t.Fault(s, r+3, s.Next(r+3, 1), "a second row of values, and no row %q", rowYQuantity)
		return
	}
	t.views(r)
	for row := r + 2; row <= end; row++ {
		for column := 2; column <= last; column++ {
			t.f.Values = append(t.f.Values, t.value(row, column))
		}
		if w := s.Width(row); w > last {
			t.Fault(s, row, w, "a value past the last breakpoint, which stands in %s", book.Name(r+1, last))
		}
	}
}

// blankGrid lists what is to be filled in under a row "values" of which nothing is.
func (t *tableReader) blankGrid(r int, twoAxes bool) {
	t.Fault(t.s, r+1, 2, "is empty, want the breakpoints of the x axis from here on, from low to high (or delete the sheet)")
	if twoAxes && t.s.Width(r+2) < 1 {
		t.Fault(t.s, r+2, 1, "is empty, want the breakpoints of the y axis from here down, from low to high")
	}
	if t.s.Width(r+2) < 2 {
		t.Fault(t.s, r+2, 2, "is empty, want the values from here on")
	}
}

// strays refuses cells that stand alone in their row, but for a breakpoint whose
// values may be empty.
func (t *tableReader) strays(row, end int) (found bool) {
	for ; row <= end; row++ {
		if at := t.s.Next(row, 1); at == t.s.Width(row) && (at > 1 || !t.empty) {
			t.Fault(t.s, row, at, "stands alone under the values, want a whole row or nothing")
			found = true
		}
	}
	return found
}

func (t *tableReader) value(row, column int) float64 {
	v, ok := t.Number(t.s, row, column)
	if ok {
		return v
	}
	if !t.empty {
		t.Fault(t.s, row, column, "is empty, want a number")
	}
	return math.NaN()
}

func (t *tableReader) axis(quantityRow, unitRow, prefix string, n int, at func(i int) (row, column int)) *tables.Axis {
	before := len(t.Faults)
	points := make([]float64, n)
	for i := range points {
		row, column := at(i)
		v, ok := t.Number(t.s, row, column)
		if !ok {
			t.Fault(t.s, row, column, "is empty, want a breakpoint")
		}
		points[i] = v
		if len(t.Faults) == before && i > 0 && !(points[i-1] < v) {
			t.Fault(t.s, row, column, "breakpoint %s is not above the one before it, %s",
				tables.FormatValue(v), tables.FormatValue(points[i-1]))
		}
	}
	if len(t.Faults) > before {
		return nil
	}
	quantity, _ := t.axisText(quantityRow)
	unit, _ := t.axisText(unitRow)
	a, err := tables.NewAxisExtra(quantity, unit, points, sorted(*t.extra[prefix]))
	if err != nil {
		t.Fault(t.s, t.values, 1, "%v", err)
	}
	return a
}

// views says where a heading shows another axis than its rows give.
func (t *tableReader) views(r int) {
	for _, v := range []struct {
		row, column int
		axis        *tables.Axis
		truth       string
	}{{r, 2, t.f.X, rowXQuantity}, {r + 1, 1, t.f.Y, rowYQuantity}} {
		if shown := t.s.At(v.row, v.column).Text; shown != view(v.axis.Label()) && shown != "" && v.axis != nil {
			t.Caution(t.s, v.row, v.column, "heading %s is not the axis of row %q: that row is read", tables.Quote(shown), v.truth)
		}
	}
}

// comments says that notes which a person hung onto cells are not kept.
func (t *tableReader) comments() {
	for _, c := range t.s.Comments {
		row, column, ok := book.ParseName(c.Cell)
		if ok && !sameWords(c.Text, t.f.Notes) {
			t.Caution(t.s, row, column, "its comment is beside the document, ignored")
		}
	}
}

func sameWords(a, b string) bool {
	a, b = strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " ")
	return a == b || strings.HasSuffix(a, "…") && strings.HasPrefix(b, strings.TrimSpace(strings.TrimSuffix(a, "…")))
}
