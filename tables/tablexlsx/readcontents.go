package tablexlsx

import (
	"math"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tablexlsx/book"
)

// contentsReader reads the contents sheet.
type contentsReader struct {
	*Reader
	s     *book.Sheet
	d     tables.Contents
	extra []tables.ExtraKey
	fact  []tables.ExtraKey // the engine's own
	list  []int             // the rows that list the tables
	seen  map[string]bool
}

func (k *contentsReader) read() {
	k.seen = map[string]bool{}
	listing := false
	last := 0
	for _, row := range k.s.Rows() {
		name := k.Text(k.s, row, 1)
		if !strings.HasPrefix(name, "x-") {
			name = strings.TrimSpace(name)
		}
		if listing && row == last+1 {
			k.list, last = append(k.list, row), row
			continue
		}
		listing = name == rowTables
		last = row
		if !listing {
			k.row(name, row)
		}
	}
	if k.d.Engine != nil {
		k.d.Engine.Extra = sorted(k.fact)
	}
	k.d.Extra = sorted(k.extra)
}

func (k *contentsReader) row(name string, row int) {
	s, next := k.s, 3
	once := name == rowFormat || name == rowName || name == rowNotes
	if once && k.seen[name] {
		k.Fault(s, row, 1, "row %s stands twice", tables.Quote(name))
	}
	k.seen[name] = true
	switch {
	case name == rowFormat:
		k.format(row)
	case name == rowName || name == rowNotes:
		f, _ := tables.DocumentFields.Find(name)
		next = readField(k.Reader, f, &k.d, s, row, 2)
	case name == rowEngine:
		next = k.engine(row)
	case name == rowSource:
		k.d.Source = append(k.d.Source, tables.Source{Name: k.Text(s, row, 2), SHA256: k.Text(s, row, 3),
			Rows: k.count(s, row, 4), Kept: k.count(s, row, 5)})
		next = 6
	case name == rowDropped:
		if len(k.d.Source) == 0 {
			k.Fault(s, row, 1, "no row %q stands above it", rowSource)
			return
		}
		src := &k.d.Source[len(k.d.Source)-1]
		src.Dropped = append(src.Dropped, tables.Dropped{Reason: k.Text(s, row, 2), Count: k.count(s, row, 3)})
		next = 4
	case strings.HasPrefix(name, "x-"):
		k.keep(&k.extra, name, s, row, 2)
		return
	case name == "":
		next = 2
	case remark(name):
	default:
		k.Fault(s, row, 1, "%s is no row of the contents: its first cell names what it holds, such as engine | cylinders | 4", tables.Quote(name))
		return
	}
	k.Nothing(s, row, next)
}

// state reads the sheet of what cell averages carry for machines.
func (k *contentsReader) state(s *book.Sheet) {
	for _, row := range s.Rows() {
		switch name := strings.TrimSpace(k.Text(s, row, 1)); name {
		case rowState:
			k.keep(&k.d.State, k.Text(s, row, 2), s, row, 3)
		case "":
			k.Nothing(s, row, 2)
		default:
			k.Fault(s, row, 1, "%s is no row of the state", tables.Quote(name))
		}
	}
}

func (k *contentsReader) format(row int) {
	f := strings.TrimSpace(k.Text(k.s, row, 2))
	k.d.Kind = tables.Kind(f)
	if k.d.Kind != tables.Calibrated && k.d.Kind != tables.Cells {
		k.Fault(k.s, row, 2, "format: %s", tables.UnknownFormat(f, string(tables.Calibrated), string(tables.Cells)))
	}
}

func (k *contentsReader) engine(row int) (next int) {
	if k.d.Engine == nil {
		k.d.Engine = &tables.Engine{}
	}
	name := k.Text(k.s, row, 2)
	f, ok := tables.EngineFields.Find(name)
	twice := k.seen["engine "+name]
	k.seen["engine "+name] = true
	switch {
	case name == "":
		return 2
	case twice:
		k.Fault(k.s, row, 2, "engine fact %s stands twice", tables.Quote(name))
	case !ok:
		k.Fault(k.s, row, 2, "%s is no fact about an engine", tables.Quote(name))
	case strings.HasPrefix(name, "x-"):
		k.keep(&k.fact, name, k.s, row, 3)
	default:
		before := len(k.Faults)
		next = readField(k.Reader, f, k.d.Engine, k.s, row, 3)
		if len(k.Faults) == before && !f.Given(k.d.Engine) {
			k.Fault(k.s, row, 3, blank, "a number")
		}
		return next
	}
	return k.s.Width(row) + 1
}

// count is a cell's whole number, 0 or more.
func (r *Reader) count(s *book.Sheet, row, column int) int {
	v, ok := r.Number(s, row, column)
	switch {
	case !ok:
		r.Fault(s, row, column, blank, "a whole number")
	case v != math.Trunc(v) || v < 0 || v > 1<<53:
		r.Fault(s, row, column, "want a whole number")
	default:
		return int(v)
	}
	return 0
}

// compare says where the list of tables shows something else than the tables'
// own sheets.
func (k *contentsReader) compare(sheets map[string]string) {
	byID := map[string]*tables.Table{}
	for _, t := range k.d.Tables {
		byID[t.ID()] = t
	}
	for _, row := range k.list {
		id := strings.TrimSpace(k.s.At(row, 1).Text)
		t := byID[id]
		if t == nil {
			if id != "" {
				k.Caution(k.s, row, 1, "no sheet holds a table %s", tables.Quote(id))
			}
			continue
		}
		for column, want := range []string{t.Title(), string(t.Role()), t.Unit()} {
			if shown := k.s.At(row, 2+column).Text; shown != view(want) {
				k.Caution(k.s, row, 2+column, "shows %s, the sheet %s has %s: the sheet is read",
					tables.Quote(shown), tables.Quote(sheets[id]), tables.Quote(want))
			}
		}
	}
}
