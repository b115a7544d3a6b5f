package merge

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"calsplice/tables"
)

// Conflict is one place that both sides changed differently: a cell, or the
// field, axis or whole table that Name says.
type Conflict struct {
	ID    string // the same for the same place, whichever side is ours
	Table string // "" for the document
	Name  string // "" for a cell

	// Row and Column address a cell: of the merged document, or, where that
	// does not have it, of the document that In says.
	Row, Column int
	In          Side     // "" for the merged document
	X, Y        *float64 // a cell's coordinates, in axis units

	// Gone is "x", "y" or "xy" where one side took the cell's column, its row or
	// both away.
	Gone string

	Base, Ours, Theirs State
	take               Side // that is chosen while it is resolved

	// Typed is what a person typed in place of the three; it resolves the conflict
	// where [Typed] is taken.
	Typed *State

	// After, of a whole table, lists the tables before it, the nearest first, down
	// to one that every resolution leaves in place.
	After []string
}

// Field is what the conflict is about, as a field of its sides, so that whoever
// shows, writes or reads one asks here; false where there is no such field.
func (c Conflict) Field() (f tables.Field[State], known bool) {
	if c.Cell() {
		return aCell, true
	}
	return fieldOf(c.Table, c.Name)
}

// Cell reports whether the conflict is about one cell.
func (c Conflict) Cell() bool { return c.Name == "" }

// Types reports whether a person may type what is to stand instead of the
// sides: a cell or a field of its own, but no table, order, axis or unit.
func (c Conflict) Types() bool {
	return c.Cell() || c.Name != WholeTable && c.Ours.Order == nil && c.Theirs.Order == nil && c.Ours.Table == nil && c.Theirs.Table == nil
}

// Side is one of the three sides, or what was typed.
func (c Conflict) Side(s Side) State {
	switch s {
	case Ours:
		return c.Ours
	case Theirs:
		return c.Theirs
	case Typed:
		if c.Typed != nil {
			return *c.Typed
		}
	}
	return c.Base
}

// id is a short name of the conflict's place that does not depend on which side
// is ours, nor on how many conflicts there are.
func (c Conflict) id() string {
	s := c.Table + "\x00" + c.Name
	if c.Cell() {
		s += "\x00" + coordinate(c.X) + "\x00" + coordinate(c.Y)
	}
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:6])
}

// sortConflicts puts conflicts into an order that does not depend on which side
// is ours: the document's own, then table by table, fields before cells, and
// cells by their coordinates.
func sortConflicts(list []Conflict) {
	named := func(c Conflict) int { return min(1, len(c.Name)) }
	slices.SortStableFunc(list, func(a, b Conflict) int {
		p, q := at(a), at(b)
		return cmp.Or(cmp.Compare(a.Table, b.Table), named(b)-named(a), cmp.Compare(p[1], q[1]), cmp.Compare(p[0], q[0]))
	})
}

func coordinate(v *float64) string {
	if v == nil {
		return ""
	}
	return tables.FormatValue(*v)
}

// At is where the conflict stands, as people read it.
func (c Conflict) At() string {
	if c.Cell() {
		return place(c.Row, c.Column)
	}
	return c.Name
}

// Place is the conflict's table and where in it the conflict stands.
func (c Conflict) Place() string {
	if c.Table == "" {
		return c.At()
	}
	return c.Table + " " + c.At()
}

// SideText is what a document holds, in a few words.
func (c Conflict) SideText(s Side) string {
	side := c.Side(s)
	if f, known := c.Field(); known && !side.Absent {
		return f.Text(&side)
	}
	return "nothing"
}

// Where is the conflict's place in axis units; "" where it is no cell of an
// axis. The table is one that has the axes.
func (c Conflict) Where(t *tables.Table) string {
	if !c.Cell() || t == nil {
		return ""
	}
	return t.Axes().Where(at(c))
}
