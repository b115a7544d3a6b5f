package merge

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// Frame is what the row and column of an edit mean: the axes and the unit of
// the table that the edit was made on. A table without such an axis has nil.
type Frame struct {
	Table, Unit string
	X, Y        *tables.Axis
}

// framesOf are the frames of all tables whose cells are edited, as a document
// has them.
func framesOf(doc *tables.Calibration, edits []Edit) (frames []Frame) {
	seen := map[string]bool{}
	for _, e := range edits {
		c, ok := e.(*CellEdit)
		if !ok || seen[c.Table] {
			continue
		}
		seen[c.Table] = true
		if t := doc.Table(c.Table); t != nil {
			frames = append(frames, Frame{c.Table, t.Unit(), t.X(), t.Y()})
		}
	}
	return frames
}

// Has reports whether a cell is one of the frame's.
func (fr *Frame) Has(row, column int) bool {
	return row >= 0 && column >= 0 && row < fr.Y.Len() && column < fr.X.Len()
}

// Place is where a cell of the frame stands, by its breakpoints: "2000 r/min,
// 160 mg". It is "" for a scalar, and for a cell that the frame does not have.
func (fr *Frame) Place(row, column int) string {
	if !fr.Has(row, column) {
		return ""
	}
	var parts []string
	for i, axis := range (tables.Axes{fr.X, fr.Y}).All() {
		parts = append(parts, strings.TrimSpace(tables.FormatValue(axis.At([]int{column, row}[i]))+" "+axis.Unit()))
	}
	return strings.Join(parts, ", ")
}

// placement is where the rows and columns of a frame stand in a table.
type placement struct {
	x, y    axisPlacement
	same    bool // on the frame's own axes
	strange bool // the values are in another unit
	moved   int  // edits placed so far, where the axes are others
	reach   int  // and those of them between other neighbours
}

// axisPlacement has the index of each of a frame's breakpoints in the axis that
// is there, −1 for one that is not; and before and behind them its ends.
type axisPlacement struct {
	at   []int
	same bool
}

// of is where the i-th breakpoint of the frame stands.
func (p *axisPlacement) of(i int) int { return p.at[i+1] }

// sameNeighbours reports whether a breakpoint stands between the same ones as
// in the frame. An end counts as a neighbour: what lies past the last breakpoint is
// held from it.
func (p *axisPlacement) sameNeighbours(i int) bool {
	return p.at[i] == p.at[i+1]-1 && p.at[i+2] == p.at[i+1]+1
}

func (fr *Frame) placeIn(f *tables.Fields) *placement {
	p := &placement{x: placeAxis(fr.X, f.X), y: placeAxis(fr.Y, f.Y), strange: !unit.Same(fr.Unit, f.Unit)}
	p.same = p.x.same && p.y.same
	return p
}

// samePlaces reports whether two axes have the same breakpoints, in one unit
// however it is written.
func samePlaces(a, b *tables.Axis) bool {
	return a == nil && b == nil || a != nil && b != nil && unit.Same(a.Unit(), b.Unit()) && a.SamePoints(b)
}

func placeAxis(frame, here *tables.Axis) axisPlacement {
	p := axisPlacement{at: append(slices.Repeat([]int{-1}, 1+frame.Len()), here.Len())}
	if frame == nil && here == nil {
		p.at[1], p.same = 0, true
		return p
	}
	// An axis of another quantity has no place of the frame's, however its numbers agree:
	// 20 to 100 kPa and 20 to 100 % are no places of one another.
	if frame == nil || here == nil || frame.Quantity() != here.Quantity() {
		return p
	}
	conv, err := unit.Find(frame.Unit(), here.Unit())
	if err != nil {
		return p
	}
	find := here.Find
	if !unit.Same(frame.Unit(), here.Unit()) {
		slack := rounding(here)
		find = func(v float64) int {
			return slices.IndexFunc(here.Points(), func(p float64) bool { return math.Abs(p-conv.Apply(v)) <= slack+float64(1e-9*math.Abs(p)) })
		}
	}
	p.same = samePlaces(frame, here)
	last := -1
	for i, v := range frame.Points() {
		found := find(v)
		if p.at[i+1] = found; found >= 0 && found == last {
			p.at[i+1], p.at[i] = -1, -1 // breakpoints that rounding has made one
		}
		last = found
	}
	return p
}

// rounding is how far a converted number may be from the breakpoint that it is, which
// somebody rounded to the decimals that the axis shows. It is never further than a
// hundredth of the way to the next, and from a lone breakpoint nothing.
func rounding(a *tables.Axis) float64 {
	most, gap := tables.Decimals(a.At(0)), math.Inf(1)
	for i := 1; i < a.Len(); i++ {
		most, gap = max(most, tables.Decimals(a.At(i))), min(gap, a.At(i)-a.At(i-1))
	}
	if math.IsInf(gap, 1) {
		return 0
	}
	return min(math.Pow10(-most)/2, gap/100)
}

// place finds an edit's cell by its frame. Where it is not there the mismatch
// is listed.
func (d *draft) place(t *tableDraft, fr *Frame, m *Mismatch) bool {
	row, column := m.Row, m.Column
	if !fr.Has(row, column) {
		m.Found = "a frame of " + shape(fr.Y.Len(), fr.X.Len())
		d.mismatch(*m)
		return false
	}
	if t.place == nil {
		t.place = fr.placeIn(&t.f)
	}
	p := t.place
	m.Row, m.Column = p.y.of(row), p.x.of(column)
	if p.strange || m.Row < 0 || m.Column < 0 {
		d.mismatch(fr.nowhere(t, *m, row, column, p.strange))
		return false
	}
	// The edit lands on its breakpoints. What it does between them, the neighbours
	// decide: a bilinear surface fades from one breakpoint to the next.
	if !p.same {
		p.moved++
		if !p.x.sameNeighbours(column) || !p.y.sameNeighbours(row) {
			p.reach++
		}
	}
	return true
}

// nowhere says why a cell of the frame has no place in a table.
func (fr *Frame) nowhere(t *tableDraft, m Mismatch, row, column int, strange bool) Mismatch {
	m.Cell, m.Moved = false, true
	if where := fr.Place(row, column); where != "" {
		m.Field = "at " + where
	}
	switch {
	case strange:
		m.Wanted, m.Found = "a table in "+tables.Quote(fr.Unit), "one in "+tables.Quote(t.f.Unit)
	case m.Column < 0:
		m.Wanted, m.Found = "x "+breakpointText(fr.X, column), "x "+t.f.X.Text()
	default:
		m.Wanted, m.Found = "y "+breakpointText(fr.Y, row), "y "+t.f.Y.Text()
	}
	return m
}

func breakpointText(a *tables.Axis, i int) string {
	if a == nil {
		return "no axis"
	}
	return a.Label() + " " + tables.FormatValue(a.At(i))
}

// placed says which edits went to other rows and columns than their own.
func (d *draft) placed() (notes []string) {
	for _, id := range d.order {
		p := d.tables[id].place
		if p == nil || p.moved == 0 {
			continue
		}
		s := fmt.Sprintf("%s: %s placed by breakpoints: the axes are not those of the change set", id, tables.Plural(p.moved, "edit"))
		if p.reach > 0 {
			s += fmt.Sprintf("; %d between other neighbours, where the change reaches less far or further than it did: calsplice merge carries it over as a surface", p.reach)
		}
		notes = append(notes, s)
	}
	return notes
}
