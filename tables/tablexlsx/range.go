package tablexlsx

import (
	"errors"
	"fmt"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tablexlsx/book"
)

// Range is a block of cells of any workbook, row after row, such as
// "Sheet1!B2:N20", or a whole sheet, "Sheet1": numbers as every document writes
// them, empty cells as "". Rows that are wholly empty are left out, and columns at the
// right. The sheet may be quoted, as programs write it: 'My sheet'!A1:B2. Page is that
// sheet. The cautions name what the workbook holds beside its cells.
//
// Of a formula the value that the workbook saved is read, and how many there are
// is reported. A date, a formula without a saved value or anything else that is
// neither text nor a number is a fault that names its cell.
func Range(data []byte, name, address string) (page string, rows []sheet.Row, cautions tables.Faults, err error) {
	b, err := book.Open(data)
	var s *book.Sheet
	var at block
	if err == nil {
		s, at, err = find(b, address)
	}
	if err != nil {
		return "", nil, nil, &tables.Fault{File: name, What: err.Error()}
	}
	r := &sheet.Reader{File: name, Cautions: b.Cautions(name)}
	formulas, width := 0, 0
	Each(r, s, func(row sheet.Row) {
		var cells sheet.Row
		for _, c := range row {
			if !at.has(c) {
				continue
			}
			if c.Kind == sheet.Formula {
				formulas++
			}
			cells, width = append(cells, plain(r, c)), max(width, int(c.At)-at.left+1)
		}
		if cells != nil {
			rows = append(rows, cells)
		}
	})
	if len(rows)*width > tables.MaxCells() {
		r.Break(errors.New(tables.TooManyCells()))
		return "", nil, nil, r.Err()
	}
	for i, row := range rows {
		rows[i] = make(sheet.Row, width)
		for j := range width {
			rows[i][j] = row.At(at.left + j)
		}
	}
	if formulas > 0 {
		r.Cautions = append(r.Cautions, &tables.Fault{File: name, What: tables.Plural(formulas, "formula") + ": the values that the workbook saved are read"})
	}
	return s.Name, rows, r.Cautions, r.Err()
}

// plain is a cell with a number as every document writes it.
func plain(r *sheet.Reader, c sheet.Cell) sheet.Cell {
	switch {
	case c.Kind == sheet.Formula && c.Text == "":
		r.Fault(c, "holds a formula without a saved value, expected one: save the workbook in a spreadsheet program")
	case c.Kind == sheet.Formula:
		c.Kind = sheet.Number
	}
	if c.Kind != sheet.Formula {
		c.Text = r.Text(c)
	}
	if v, err := tables.ParseValue(c.Text); err == nil && c.Kind == sheet.Number {
		c.Text = tables.FormatValue(v)
	}
	return c
}

// block is a block of cells, its edges included.
type block struct{ top, left, bottom, right int }

func (b block) has(c sheet.Cell) bool {
	row, column := int(c.Row), int(c.At)
	return b.top <= row && row <= b.bottom && b.left <= column && column <= b.right
}

// find reads an address: the sheet and the block.
func find(b *book.Book, address string) (s *book.Sheet, at block, err error) {
	name, cells := address, ""
	if s = sheetNamed(b, name); s == nil && address == "" && len(b.Sheets) == 1 {
		s = b.Sheets[0]
	}
	if s == nil {
		if i := strings.LastIndexByte(address, '!'); i >= 0 {
			name, cells = address[:i], address[i+1:]
		}
		if n := len(name); n >= 2 && name[0] == '\'' && name[n-1] == '\'' {
			name = strings.ReplaceAll(name[1:n-1], "''", "'")
		}
		s = sheetNamed(b, name)
	}
	if s == nil {
		names := tables.Each(b.Sheets, func(s *book.Sheet) string { return tables.Quote(s.Name) })
		if name == "" && len(names) > 1 {
			return nil, at, fmt.Errorf("which sheet: expected # and its name, one of %s", strings.Join(names, ", "))
		}
		return nil, at, fmt.Errorf("there is no sheet %s, only %s", tables.Quote(name), strings.Join(names, ", "))
	}
	if cells == "" {
		return s, block{1, 1, sheet.MostRows, sheet.MostColumns}, nil
	}
	first, last, two := strings.Cut(cells, ":")
	if !two {
		last = first
	}
	top, left, ok1 := sheet.ParseName(first)
	bottom, right, ok2 := sheet.ParseName(last)
	if !ok1 || !ok2 {
		return nil, at, fmt.Errorf("%s is no block of cells, expected one such as B2:N20", tables.Quote(cells))
	}
	return s, block{min(top, bottom), min(left, right), max(top, bottom), max(left, right)}, nil
}

// sheetNamed finds a sheet as programs do, without regard to capitals; nil where
// there is none.
func sheetNamed(b *book.Book, name string) *book.Sheet {
	for _, s := range b.Sheets {
		if strings.EqualFold(s.Name, name) {
			return s
		}
	}
	return nil
}
