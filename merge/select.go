package merge

import (
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"

	"calsplice/merge/blocks"
	"calsplice/tables"
)

// ParseBlock reads "TABLE:R,C", or "TABLE:R-R,C-C" for a rectangle.
func ParseBlock(s string) (b blocks.Block, err error) {
	colon := strings.LastIndexByte(s, ':')
	r, c, _ := strings.Cut(s[colon+1:], ",")
	rows, okRows := parseRange(r)
	columns, okColumns := parseRange(c)
	if colon <= 0 || !okRows || !okColumns {
		return b, fmt.Errorf("%s is not a place: expected TABLE:ROW,COLUMN or TABLE:ROW-ROW,COLUMN-COLUMN, from 0", tables.Quote(s))
	}
	return blocks.Block{Table: s[:colon], Rows: rows, Columns: columns}, nil
}

func parseRange(s string) ([2]int, bool) {
	first, last, ok := strings.Cut(strings.ReplaceAll(strings.TrimSpace(s), "–", "-"), "-")
	if !ok {
		last = first
	}
	a, errA := strconv.Atoi(strings.TrimSpace(first))
	b, errB := strconv.Atoi(strings.TrimSpace(last))
	return [2]int{a, b}, errA == nil && errB == nil && 0 <= a && a <= b
}

// Selection is a part of what a change set, a difference or a list of
// conflicts is about: tables by pattern, and cells. The zero Selection is all
// of it.
type Selection struct {
	Tables []string // patterns as of path.Match
	Cells  []blocks.Block
}

// All reports whether nothing is left out.
func (s Selection) All() bool { return len(s.Tables) == 0 && len(s.Cells) == 0 }

// Validate refuses a pattern that is malformed.
func (s Selection) Validate() error {
	for _, p := range s.Tables {
		if _, err := path.Match(p, ""); err != nil {
			return fmt.Errorf("pattern %s: %w", tables.Quote(p), err)
		}
	}
	return nil
}

// Table reports whether the whole of a table is selected.
func (s Selection) Table(id string) bool {
	return s.All() || slices.ContainsFunc(s.Tables, func(pattern string) bool {
		ok, _ := path.Match(pattern, id)
		return ok
	})
}

// Cell reports whether a cell is selected.
func (s Selection) Cell(table string, row, column int) bool {
	return s.Table(table) || slices.ContainsFunc(s.Cells, func(b blocks.Block) bool { return b.Has(table, row, column) })
}

// Edit reports whether an edit is selected. The document's own fields and the
// order of its tables belong to no table: they are selected with all only.
func (s Selection) Edit(e Edit) bool {
	if c, ok := e.(*CellEdit); ok {
		return s.Cell(c.Table, c.Row, c.Column)
	}
	if id := e.On(); id != "" {
		return s.Table(id)
	}
	return s.All()
}

// Conflict reports whether a conflict is selected, as [Selection.Edit] has it.
func (s Selection) Conflict(c Conflict) bool {
	switch {
	case c.Table == "":
		return s.All()
	case c.Cell():
		return s.Cell(c.Table, c.Row, c.Column)
	}
	return s.Table(c.Table)
}

// Of is the part of a change set that is selected. Cells of a table whose unit
// or axes the change set changes are half of a change without the others, and
// an error.
func (s Selection) Of(cs *ChangeSet) (*ChangeSet, error) {
	if s.All() {
		return cs, nil
	}
	for _, e := range cs.Edits {
		set, ok := e.(*FieldEdit)
		if !ok || s.Table(set.Table) || set.Whole() == nil && !set.moves() {
			continue
		}
		if slices.ContainsFunc(s.Cells, func(b blocks.Block) bool { return b.Table == set.Table }) {
			return nil, fmt.Errorf("cells of %s are half of a change: its %s change together; select the whole table", set.Table, strings.Join(set.Whole(), ", "))
		}
	}
	return cs.Select(s.Edit), nil
}

// Select is the change set of those edits that keep reports true for. The rest
// can be applied later, to make the same as the whole: a table added behind one
// that is not selected is added where it will stand once the rest follows.
func (cs *ChangeSet) Select(keep func(Edit) bool) *ChangeSet {
	part := *cs
	part.Edits, part.Frames = nil, nil
	edited := map[string]bool{}
	// What is left out may be applied later, and has to fit then: so nothing here may
	// depend on it, and each table remembers where it belongs.
	left := map[string]string{} // tables not added, and what each would follow
	for _, e := range cs.Edits {
		f, _ := e.(*FieldEdit)
		switch adds := f != nil && f.adds(); {
		case !keep(e):
			if adds {
				left[f.Table] = f.After
			}
			continue
		case adds:
			e = f.behindAny(left)
		case f != nil && f.Of(TableOrder):
			order := *f
			order.Part, e = true, &order
		}
		part.Edits = append(part.Edits, e)
		edited[e.On()] = true
	}
	if len(part.Edits) < len(cs.Edits) {
		part.makes = ""
	}
	for _, f := range cs.Frames {
		if edited[f.Table] {
			part.Frames = append(part.Frames, f)
		}
	}
	return &part
}

// behindAny is the edit with what its table may stand behind instead, where
// that is left out.
func (e *FieldEdit) behindAny(left map[string]string) *FieldEdit {
	add := *e
	for after := add.After; ; {
		next, ok := left[after]
		if !ok {
			return &add
		}
		add.Else = append(add.Else[:len(add.Else):len(add.Else)], next)
		after = next
	}
}
