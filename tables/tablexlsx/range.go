package tablexlsx

import (
	"bytes"
	"fmt"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tablexlsx/book"
)

// Range is the text of a block of cells of any workbook, row after row, such as
// "Sheet1!B2:N20", or a whole sheet, "Sheet1": numbers as every document writes
// them, empty cells as "". The sheet may be quoted, as programs write it: 'My
// sheet'!A1:B2. The cautions name what the workbook holds beside its cells.
//
// Of a formula the value that the workbook saved is read, and how many there are
// is said. A date, a formula without a saved value or anything else that is
// neither text nor a number is a fault that names its cell.
func Range(data []byte, name, address string) (rows [][]string, cautions []string, err error) {
	b, err := book.Open(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, nil, &tables.Fault{File: name, What: err.Error()}
	}
	s, from, to, err := find(b, address)
	if err != nil {
		return nil, nil, &tables.Fault{File: name, What: err.Error()}
	}
	r := &Reader{File: name}
	if n := (to[0] - from[0] + 1) * (to[1] - from[1] + 1); n > tables.MaxCells() {
		r.Fault(s, from[0], from[1], "a block of %d cells begins here, more than %d", n, tables.MaxCells())
		return nil, nil, r.Faults
	}
	formulas := 0
	for row := from[0]; row <= to[0]; row++ {
		line := make([]string, to[1]-from[1]+1)
		for i := range line {
			line[i] = r.plain(s, row, from[1]+i, &formulas)
		}
		rows = append(rows, line)
	}
	if formulas > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("%s: the values that the workbook saved are read", tables.Plural(formulas, "formula")))
	}
	return rows, Said(name, b.Cautions, r.Cautions), r.Faults.Err()
}

// plain is a cell's text or its number; it counts the formulas.
func (r *Reader) plain(s *book.Sheet, row, column int, formulas *int) string {
	c := s.At(row, column)
	switch c.Kind {
	case book.Number, book.Formula:
		if c.Kind == book.Formula {
			*formulas++
		}
		if c.Text == "" {
			r.Fault(s, row, column, "holds a formula without a saved value, want one: save the workbook in a spreadsheet program")
		}
		if v, err := tables.ParseValue(c.Text); err == nil {
			return tables.FormatValue(v)
		}
	case book.Empty, book.Text:
	default:
		r.Fault(s, row, column, "holds %s, want a plain number or text", c.Kind)
	}
	return c.Text
}

// find reads an address: the sheet and the first and the last cell.
func find(b *book.Book, address string) (s *book.Sheet, from, to [2]int, err error) {
	name, block := address, ""
	if s = sheetNamed(b, name); s == nil && address == "" && len(b.Sheets) == 1 {
		s = b.Sheets[0]
	}
	if s == nil {
		if i := strings.LastIndexByte(address, '!'); i >= 0 {
			name, block = address[:i], address[i+1:]
		}
		if n := len(name); n >= 2 && name[0] == '\'' && name[n-1] == '\'' {
			name = strings.ReplaceAll(name[1:n-1], "''", "'")
		}
		s = sheetNamed(b, name)
	}
	if s == nil {
		var names []string
		for _, s := range b.Sheets {
			names = append(names, tables.Quote(s.Name))
		}
		if name == "" && len(names) > 1 {
			return nil, from, to, fmt.Errorf("which sheet: want # and its name, one of %s", strings.Join(names, ", "))
		}
		return nil, from, to, fmt.Errorf("there is no sheet %s, only %s", tables.Quote(name), strings.Join(names, ", "))
	}
	if block == "" {
		from, to = used(s)
		if to[0] == 0 {
			return nil, from, to, fmt.Errorf("the sheet %s is empty", tables.Quote(name))
		}
		return s, from, to, nil
	}
	first, last, two := strings.Cut(block, ":")
	if !two {
		last = first
	}
	var ok1, ok2 bool
	from[0], from[1], ok1 = book.ParseName(first)
	to[0], to[1], ok2 = book.ParseName(last)
	if !ok1 || !ok2 {
		return nil, from, to, fmt.Errorf("%s is no block of cells, want such as B2:N20", tables.Quote(block))
	}
	return s, [2]int{min(from[0], to[0]), min(from[1], to[1])}, [2]int{max(from[0], to[0]), max(from[1], to[1])}, nil
}

func sheetNamed(b *book.Book, name string) *book.Sheet {
	for _, s := range b.Sheets {
		if strings.EqualFold(s.Name, name) {
			return s
		}
	}
	return nil
}

// used is the smallest block that holds every cell of a sheet.
func used(s *book.Sheet) (from, to [2]int) {
	rows := s.Rows()
	if len(rows) == 0 {
		return from, to
	}
	from, to = [2]int{rows[0], s.Next(rows[0], 1)}, [2]int{rows[len(rows)-1], 0}
	for _, r := range rows {
		from[1], to[1] = min(from[1], s.Next(r, 1)), max(to[1], s.Width(r))
	}
	return from, to
}
