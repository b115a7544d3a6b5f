package book

import (
	"encoding/xml"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Sheet is one sheet of a workbook. Nothing of it is kept: it is unpacked each
// time that its rows are asked for.
type Sheet struct {
	Name string
	// What holds of the sheet once its rows have been read to the end.
	Hidden   []sheet.Cell // one for each row with cells that the program does not show
	Filtered bool         // a filter has a condition, whether it hides rows yet or not

	book  *Book
	part  string
	cells int // that are counted among the workbook's
}

// First is the first row that is not wholly empty, nil where all are.
func (s *Sheet) First() (first sheet.Row, err error) {
	err = s.Rows(func(row sheet.Row) bool {
		first = slices.Clone(row)
		return false
	})
	return first, err
}

// Rows hands on the rows that are not wholly empty, from the top, until each
// reports false. A row is good until the next one. Cells are counted once for the
// whole workbook, however often a sheet is read.
func (s *Sheet) Rows(each func(sheet.Row) bool) error {
	if s.part == "" {
		return nil
	}
	d, err := s.book.open(s.part)
	if err != nil {
		return err
	}
	if d == nil {
		return fmt.Errorf("not a sound workbook: the part of its sheet %q is missing", s.Name)
	}
	defer d.close()
	w := &walker{book: s.book, sheet: s, each: each}
	s.Hidden, s.Filtered = nil, false
	for !w.enough {
		t, err := d.next()
		if err != nil {
			return err
		}
		if t == nil {
			return nil
		}
		if err := w.token(t); err != nil {
			return fmt.Errorf("sheet %q: %w", s.Name, err)
		}
	}
	return nil
}

// walker takes the cells out of one sheet's part, a row at a time, so that a sheet of
// any size takes the memory of its longest row. A cell that is not there, and one
// with a look alone, is left out of its row.
type walker struct {
	book   *Book
	sheet  *Sheet
	each   func(sheet.Row) bool
	enough bool
	cells  int
	text   int64

	at      int // the row
	last    int // the last row that was handed on
	row     sheet.Row
	hidden  bool // the row
	column  int
	kind    string // the cell's t attribute
	style   int
	formula bool
	value   []byte
	grab    bool // within v, t or f
	phonic  int  // within rPh, the reading aid, whose text is not the cell's
}

// token takes in one piece of a sheet's XML. Only the last elements around it
// matter, since no program writes a cell within a cell.
func (w *walker) token(t xml.Token) error {
	switch t := t.(type) {
	case xml.CharData:
		if w.grab && w.phonic == 0 {
			w.value = append(w.value, t...)
		}
	case xml.StartElement:
		return w.start(t)
	case xml.EndElement:
		switch t.Name.Local {
		case "v", "t", "f":
			w.grab = false
		case "rPh":
			w.phonic--
		case "c":
			return w.endCell()
		case "row":
			return w.endRow()
		}
	}
	return nil
}

// start takes in the beginning of an element. Rows and cells without a number
// follow the one before, as the standard allows.
func (w *walker) start(e xml.StartElement) error {
	switch e.Name.Local {
	case "row":
		w.at, w.column, w.row = w.at+1, 0, w.row[:0]
		if r := attr(e, "r"); r != "" {
			n, err := strconv.Atoi(r)
			if err != nil || n < 1 || n > sheet.MostRows {
				return fmt.Errorf("a row is numbered %s", tables.Quote(r))
			}
			w.at = n
		}
		w.hidden = attr(e, "hidden") == "1" || attr(e, "hidden") == "true" || attr(e, "ht") == "0"
	case "filters", "customFilters", "top10", "dynamicFilter", "colorFilter", "iconFilter":
		w.sheet.Filtered = true
	case "c":
		return w.startCell(e)
	case "f":
		w.formula = true
	case "rPh":
		w.phonic++
	case "v":
		w.grab = w.kind != "inlineStr"
	case "t":
		w.grab = w.kind == "inlineStr"
	}
	return nil
}

// startCell begins a cell. Its own name wins over counting, but it must be of
// its row and right of the cell before: otherwise two cells would share a place.
func (w *walker) startCell(e xml.StartElement) error {
	w.column++
	if r := attr(e, "r"); r != "" {
		at, column, ok := sheet.ParseName(r)
		if !ok || at != w.at || column < w.column {
			return fmt.Errorf("a cell in row %d is named %s", w.at, tables.Quote(r))
		}
		w.column = column
	}
	if w.cells++; w.cells > w.sheet.cells { // it was not read before
		w.sheet.cells++
		if w.book.cells++; w.book.cells > tables.MaxCells() {
			return errors.New(tables.TooManyCells())
		}
	}
	w.kind, w.formula = attr(e, "t"), false
	w.style, _ = strconv.Atoi(attr(e, "s"))
	w.value = w.value[:0]
	return nil
}

// endRow hands a row on. A row that stands above an earlier one, or twice, is
// what no program writes and no reader of rows in order could place.
func (w *walker) endRow() error {
	if len(w.row) == 0 {
		return nil
	}
	if w.at <= w.last {
		return fmt.Errorf("row %d stands behind row %d", w.at, w.last)
	}
	if w.last = w.at; w.hidden {
		w.sheet.Hidden = append(w.sheet.Hidden, sheet.Cell{Row: int32(w.at)})
	}
	w.enough = !w.each(w.row)
	w.row = w.row[:0]
	return nil
}

// endCell adds the cell that ends here to its row, unless it is empty. Programs
// write thousands of empty cells for the sake of their look alone.
func (w *walker) endCell() error {
	kind, text, err := w.cell()
	if err != nil {
		return fmt.Errorf("cell %s: %w", sheet.Name(w.at, w.column), err)
	}
	if kind == sheet.Empty || kind == sheet.Text && text == "" {
		return nil
	}
	if w.text += int64(len(text)); w.text > tables.MaxBytes() { // shared text counts wherever it stands
		return fmt.Errorf("the sheet's cells hold more than %d MiB of text", tables.MaxBytes()>>20)
	}
	w.row = append(w.row, sheet.Cell{Text: text, Row: int32(w.at), At: int32(w.column), Kind: kind})
	return nil
}

// cell is what the cell that ends here holds.
func (w *walker) cell() (sheet.Kind, string, error) {
	v := string(w.value)
	if w.formula {
		if w.kind == "b" || w.kind == "e" || w.kind == "s" {
			v = ""
		}
		return sheet.Formula, strings.TrimSpace(v), nil
	}
	switch w.kind {
	case "s":
		if v == "" {
			return sheet.Empty, "", nil
		}
		i, err := strconv.Atoi(strings.TrimSpace(v))
		if err != nil || i < 0 || i >= len(w.book.strings) {
			return sheet.Empty, "", fmt.Errorf("there is no shared text %s", tables.Quote(v))
		}
		return sheet.Text, w.book.strings[i], nil
	case "inlineStr", "str":
		return sheet.Text, unescape(v), nil
	case "b":
		return sheet.Boolean, v, nil
	case "e":
		return sheet.Error, v, nil
	case "d":
		return sheet.Date, v, nil
	}
	if v = strings.TrimSpace(v); v == "" {
		return sheet.Empty, "", nil
	}
	if w.style >= 0 && w.style < len(w.book.looks) {
		return w.book.looks[w.style], v, nil
	}
	return sheet.Number, v, nil
}
