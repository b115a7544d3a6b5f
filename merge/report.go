package merge

import (
	"cmp"
	"iter"
	"slices"

	"calsplice/merge/blocks"
	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// Report is what differs between two documents as a person reads it,
// and the JSON that machines get. Where a [ChangeSet] carries every bit, a
// report leaves out cells that are the same within the tolerance, and counts
// them.
type Report struct {
	Format    string          `json:"format"`
	Old       Named           `json:"old"`
	New       Named           `json:"new"`
	Identical bool            `json:"identical"` // to the bit
	Same      bool            `json:"same"`      // nothing differs by more than the tolerance
	Hidden    int             `json:"hidden"`    // cells that differ by less
	Tolerance []ToleranceUsed `json:"tolerance"` // for each table compared that has one
	Document  []FieldChange   `json:"document"`
	Order     *OrderChange    `json:"order"`
	Tables    []TableReport   `json:"tables"`
	Blocks    []blocks.Block  `json:"blocks"`
	Cells     []CellChange    `json:"cells"` // every cell that changed, whether a block explains it or not
}

// ReportFormat is the first line of a report's JSON.
const ReportFormat = "calsplice.diff/1"

// Named is one of the two documents.
type Named struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
}

// ToleranceUsed is the tolerance that a table was compared with.
type ToleranceUsed struct {
	Table string `json:"table"`
	Text  string `json:"text"`
}

// FieldChange is a field of a table or a document, in words.
type FieldChange struct {
	Field string `json:"field"`
	From  string `json:"from"`
	To    string `json:"to"`
	Words []Word `json:"words,omitempty"` // for titles, names and notes
}

// OrderChange is the tables' order before and after, where those that both
// documents have changed places.
type OrderChange struct {
	From []string `json:"from"`
	To   []string `json:"to"`
}

// TableReport is one table that differs.
type TableReport struct {
	Table   string        `json:"table"`
	Title   string        `json:"title"`
	Unit    string        `json:"unit"`
	Change  string        `json:"change"`            // "added", "removed" or "changed"
	Finding string        `json:"finding,omitempty"` // the whole difference in one sentence, where there is one
	Fields  []FieldChange `json:"fields,omitempty"`
	Axes    []AxisChange  `json:"axes,omitempty"`
	Surface *Surface      `json:"surface,omitempty"` // where the axes differ
	Changed int           `json:"changed"`           // cells listed
	Hidden  int           `json:"hidden"`            // cells that differ by less than the tolerance
	Of      int           `json:"of"`                // cells compared one by one
	Notes   []string      `json:"said,omitempty"`    // what was assumed, and what couldn't be compared
	// Old and New are the table in both documents; nil where one lacks it.
	Old *tables.Table `json:"-"`
	New *tables.Table `json:"-"`
	// Cells and Blocks are the stretches of Report.Cells and Report.Blocks that
	// are about the table, the end not included.
	Cells  [2]int `json:"-"`
	Blocks [2]int `json:"-"`
	// Rest are the indices in Report.Cells of the cells that no block explains.
	Rest []int `json:"-"`
}

// CellChange is one cell that changed, in the new table's unit. OldAt is where
// it stood, given where that is another place.
type CellChange struct {
	Table string        `json:"table"`
	At    [2]int        `json:"at"`
	OldAt *[2]int       `json:"old_at,omitempty"`
	From  tables.Number `json:"from"`
	To    tables.Number `json:"to"`
}

// Compare lists the differences between two documents for a reader: the tables
// that are selected, and the document's own fields where all are.
func Compare(a, b *tables.Calibration, tolerance Tolerance, only Selection) *Report {
	r := compare(a, b, tolerance, only, false)
	r.Old.SHA256, r.New.SHA256 = tablejson.SHA256(a), tablejson.SHA256(b)
	return r
}

// Differs is the short answer: whether two documents differ by more than the
// tolerance, and how many cells differ by less.
func Differs(a, b *tables.Calibration, tolerance Tolerance, only Selection) (differs bool, hidden int) {
	r := compare(a, b, tolerance, only, true)
	return !r.Same, r.Hidden
}

func compare(a, b *tables.Calibration, tolerance Tolerance, only Selection, short bool) *Report {
	r := &Report{Format: ReportFormat, Identical: a.Equal(b), Old: Named{Name: a.Name()}, New: Named{Name: b.Name()},
		Tolerance: []ToleranceUsed{}, Document: []FieldChange{}, Tables: []TableReport{}, Blocks: []blocks.Block{}, Cells: []CellChange{}}
	if only.All() {
		r.document(a, b)
	}
	// Removed tables stand first, in the old document's order; the rest follows the
	// new one.
	for _, t := range a.Tables() {
		if only.Table(t.ID()) && b.Table(t.ID()) == nil {
			r.Tables = append(r.Tables, TableReport{Table: t.ID(), Title: t.Title(), Unit: t.Unit(), Change: "removed", Old: t})
		}
	}
	c := comparison{r, tolerance, a, b, short}
	for _, t := range b.Tables() {
		if !only.Table(t.ID()) {
			continue
		}
		if old := a.Table(t.ID()); old != nil {
			c.table(old, t)
		} else {
			r.Tables = append(r.Tables, TableReport{Table: t.ID(), Title: t.Title(), Unit: t.Unit(), Change: "added", New: t})
		}
	}
	r.Same = len(r.Document) == 0 && r.Order == nil && len(r.Tables) == 0
	return r
}

func (r *Report) document(a, b *tables.Calibration) {
	from, to := a.Contents(), b.Contents()
	for _, f := range tables.DocumentFields.Of(&from, &to) {
		switch {
		case f.Same(&from, &to):
		case f.Name == "engine":
			r.Document = append(r.Document, engineChanges(from.Engine, to.Engine)...)
		case f.OfCells: // the cells behind them are told instead
			r.Document = append(r.Document, FieldChange{Field: f.Name})
		default:
			r.Document = append(r.Document, fieldChange(f, &from, &to))
		}
	}
	kept := keepOnly(a.IDs(), set(b.IDs()))
	if there := keepOnly(b.IDs(), set(kept)); idList(kept) != idList(there) {
		r.Order = &OrderChange{kept, there}
	}
}

// fieldChange tells one field of two apart, a name, a title and notes word by
// word.
func fieldChange[T any](f tables.Field[T], a, b *T) FieldChange {
	if from, ok := f.At(a).(*string); ok && f.Name != "unit" {
		to := *f.At(b).(*string)
		return FieldChange{Field: f.Name, From: *from, To: to, Words: words(*from, to)}
	}
	return FieldChange{Field: f.Name, From: f.Text(a), To: f.Text(b)}
}

// engineChanges tells the facts about an engine apart one by one.
func engineChanges(a, b *tables.Engine) (changes []FieldChange) {
	text := func(f tables.Field[tables.Engine], e *tables.Engine) string {
		if !f.Given(e) {
			return "not given"
		}
		return f.Text(e)
	}
	from, to := cmp.Or(a, &tables.Engine{}), cmp.Or(b, &tables.Engine{})
	for _, f := range tables.EngineFields.Of(from, to) {
		if !f.Same(from, to) {
			changes = append(changes, FieldChange{Field: "engine " + f.Name, From: text(f, from), To: text(f, to)})
		}
	}
	return changes
}

// comparison is a report in the making.
type comparison struct {
	*Report
	tolerance Tolerance
	a, b      *tables.Calibration
	short     bool // whether and how much, not what
}

// table compares two tables of one id.
func (c *comparison) table(a, b *tables.Table) {
	half := min(a.Tolerance(), b.Tolerance())
	bound := c.tolerance.of(b.ID(), half)
	if s := bound.String(); s != "none" {
		c.Tolerance = append(c.Tolerance, ToleranceUsed{b.ID(), s})
	}
	if a.Equal(b) {
		return
	}
	t := TableReport{Table: b.ID(), Title: b.Title(), Unit: b.Unit(), Change: "changed", Old: a, New: b}
	from, to := a.Fields(), b.Fields()
	for _, f := range tables.TableFields.Of(&from, &to) {
		if !slices.Contains(tables.OnAxes, f.Name) && !f.Same(&from, &to) {
			t.Fields = append(t.Fields, fieldChange(f, &from, &to))
		}
	}
	if old := c.otherUnit(&t, a, b); old != nil {
		a = old
	}
	t.Cells[0], t.Blocks[0] = len(c.Cells), len(c.Blocks)
	if t.Finding == "" {
		c.values(&t, a, b, bound)
	}
	t.Cells[1], t.Blocks[1] = len(c.Cells), len(c.Blocks)
	c.Hidden += t.Hidden
	if t.Finding != "" || len(t.Fields) > 0 || len(t.Axes) > 0 || t.Changed > 0 {
		c.Tables = append(c.Tables, t)
	}
}

// values compares the axes of two tables in one unit, and the cells that both have:
// so values that were edited are told apart from axes that were.
func (c *comparison) values(t *TableReport, a, b *tables.Table, bound bounds) {
	t.Axes = axisChanges(a, b)
	index := map[int]int{} // of each changed cell, its place in the list
	va, vb := a.Values(), b.Values()
	for was, is := range kept(a, b) {
		v, w := va[was], vb[is]
		t.Of++
		switch {
		case tables.SameBit(v, w):
		case bound.hides(v, w):
			t.Hidden++
		default:
			if t.Changed++; !c.short {
				index[is] = len(c.Cells)
				c.Cells = append(c.Cells, cellChange(a, b, was, is))
			}
		}
	}
	switch {
	case c.short:
	case !a.Axes().SamePoints(b.Axes()):
		for i := range t.Changed {
			t.Rest = append(t.Rest, t.Cells[0]+i)
		}
		t.surface(a, b, bound)
	case t.Changed > 0:
		// The cells are all listed, for machines; blocks say the same for people, and
		// what no block explains is listed to them cell by cell.
		list, rest := blocks.Find(va, b, bound.hides)
		c.Blocks = append(c.Blocks, list...)
		for _, i := range rest {
			t.Rest = append(t.Rest, index[i])
		}
	}
}

func cellChange(a, b *tables.Table, was, is int) CellChange {
	c := CellChange{Table: b.ID(), At: [2]int{is / b.Columns(), is % b.Columns()}, From: tables.Number(a.Values()[was]), To: tables.Number(b.Values()[is])}
	if at := [2]int{was / a.Columns(), was % a.Columns()}; at != c.At {
		c.OldAt = &at
	}
	return c
}

// kept gives the index, in either table, of each cell whose breakpoints stand in both.
// Breakpoints of another unit may be the same places: they have been converted
// before, where they could be, and what is left does not compare.
func kept(a, b *tables.Table) iter.Seq2[int, int] {
	return func(yield func(was, is int) bool) {
		from, to := a.Axes(), b.Axes()
		same := from.SamePoints(to)
		for k := range from {
			if !same && ((from[k] == nil) != (to[k] == nil) || from[k].Label() != to[k].Label()) {
				return
			}
		}
		for is := range b.Values() {
			was := is
			if !same {
				was = from.Find(to.At(is))
			}
			if was >= 0 && !yield(was, is) {
				return
			}
		}
	}
}
