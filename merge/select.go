package merge

import (
	"fmt"
	"path"
	"strconv"
	"strings"

	"calsplice/tables"
)

// Block is a rectangle of cells of one table, both ends included, from 0.
type Block struct {
	Table         string
	Rows, Columns [2]int
}

// ParseBlock reads "TABLE:R,C", or "TABLE:R-R,C-C" for a rectangle.
func ParseBlock(s string) (Block, error) {
	bad := fmt.Errorf("%s is not a place: want TABLE:ROW,COLUMN or TABLE:ROW-ROW,COLUMN-COLUMN, from 0", tables.Quote(s))
	colon := strings.LastIndexByte(s, ':')
	if colon <= 0 {
		return Block{}, bad
	}
	r, c, ok := strings.Cut(s[colon+1:], ",")
	if !ok {
		return Block{}, bad
	}
	b := Block{Table: s[:colon]}
	var okr, okc bool
	if b.Rows, okr = parseRange(r); !okr {
		return Block{}, bad
	}
	if b.Columns, okc = parseRange(c); !okc {
		return Block{}, bad
	}
	return b, nil
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

// Has reports whether a cell stands in the block.
func (b Block) Has(table string, row, column int) bool {
	return table == b.Table && b.Rows[0] <= row && row <= b.Rows[1] && b.Columns[0] <= column && column <= b.Columns[1]
}

// Selection is a part of what a change set, a difference or a list of
// conflicts is about: tables by pattern, and cells. The zero Selection is all
// of it.
type Selection struct {
	Tables []string // patterns as of path.Match
	Cells  []Block
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
	if s.All() {
		return true
	}
	for _, p := range s.Tables {
		if ok, _ := path.Match(p, id); ok {
			return true
		}
	}
	return false
}

// Cell reports whether a cell is selected.
func (s Selection) Cell(table string, row, column int) bool {
	for _, b := range s.Cells {
		if b.Has(table, row, column) {
			return true
		}
	}
	return s.Table(table)
}

// Edit reports whether an edit is selected. The document's own fields and the
// order of its tables belong to no table: they are selected with all only.
func (s Selection) Edit(e Edit) bool {
	if e.Cell != nil {
		return s.Cell(e.Cell.Table, e.Cell.Row, e.Cell.Column)
	}
	if id := e.Table(); id != "" {
		return s.Table(id)
	}
	return s.All()
}

// Table is the id of the table that an edit is about; "" for the document.
func (e Edit) Table() string {
	switch {
	case e.Cell != nil:
		return e.Cell.Table
	case e.Set != nil:
		return e.Set.Table
	case e.Add != nil:
		return e.Add.Table.ID()
	case e.Remove != nil:
		return e.Remove.Table.ID()
	}
	return ""
}

// Select is the change set of those edits that keep reports true for. The rest
// can be applied later, to make the same as the whole: a table added behind one
// that is not selected is added where it will stand once the rest follows.
func (cs *ChangeSet) Select(keep func(Edit) bool) *ChangeSet {
	part := *cs
	part.Edits = nil
	left := map[string]string{} // tables not added, and what each would follow
	for _, e := range cs.Edits {
		if !keep(e) {
			if e.Add != nil {
				left[e.Add.Table.ID()] = e.Add.After
			}
			continue
		}
		if e.Add != nil {
			add := *e.Add
			for after := add.After; ; {
				next, ok := left[after]
				if !ok {
					break
				}
				add.Else = append(add.Else[:len(add.Else):len(add.Else)], next)
				after = next
			}
			e.Add = &add
		}
		if e.Order != nil {
			e.Order = &OrderEdit{e.Order.From, e.Order.To, true}
		}
		part.Edits = append(part.Edits, e)
	}
	return &part
}
