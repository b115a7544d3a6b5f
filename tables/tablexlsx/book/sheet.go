package book

import (
	"encoding/xml"
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
	defer d.part.Close()
	w := &walker{decoder: d, sheet: s, each: each}
	s.Hidden, s.Filtered = nil, false
	for !w.enough {
		t, err := d.next()
		if t == nil || err != nil {
			return err
		}
		if err := w.token(t); err != nil {
			return err
		}
	}
	return nil
}

// walker takes the cells out of one sheet's part, a row at a time, so that a sheet of
// any size takes the memory of its longest row. A cell that is not there, and one
// with a look alone, is left out of its row.
type walker struct {
	*decoder
	sheet  *Sheet
	each   func(sheet.Row) bool
	enough bool
	cells  int
	text   int64

	at     int // the row
	last   int // the last row that was handed on
	row    sheet.Row
	hidden bool // the row
	column int
	value  []byte // of the cell
}

// refuse is an error of the sheet.
func (w *walker) refuse(format string, args ...any) error {
	return fmt.Errorf("sheet %q: %s", w.sheet.Name, fmt.Sprintf(format, args...))
}

// token takes in one piece of a sheet's XML that is not within a cell.
func (w *walker) token(t xml.Token) error {
	switch t := t.(type) {
	case xml.EndElement:
		if t.Name.Local == "row" {
			return w.endRow()
		}
	case xml.StartElement:
		switch t.Name.Local {
		case "row":
			return w.startRow(t)
		case "c":
			return w.cell(t)
		case "filters", "customFilters", "top10", "dynamicFilter", "colorFilter", "iconFilter":
			w.sheet.Filtered = true
		}
	}
	return nil
}

// startRow begins a row. One without a number follows the one before, as the standard
// allows.
func (w *walker) startRow(e xml.StartElement) error {
	w.at, w.column, w.row = w.at+1, 0, w.row[:0]
	if r := attr(e, "r"); r != "" {
		n, err := strconv.Atoi(r)
		if err != nil || n < 1 || n > sheet.MostRows {
			return w.refuse("a row is numbered %s", tables.Quote(r))
		}
		w.at = n
	}
	w.hidden = attr(e, "hidden") == "1" || attr(e, "hidden") == "true" || attr(e, "ht") == "0"
	return nil
}

// endRow hands a row on. A row that stands above an earlier one, or twice, is
// what no program writes and no reader of rows in order could place.
func (w *walker) endRow() error {
	if len(w.row) == 0 {
		return nil
	}
	if w.at <= w.last {
		return w.refuse("row %d stands behind row %d", w.at, w.last)
	}
	if w.last = w.at; w.hidden {
		w.sheet.Hidden = append(w.sheet.Hidden, sheet.Cell{Row: int32(w.at)})
	}
	w.enough = !w.each(w.row)
	w.row = w.row[:0]
	return nil
}

// place finds where a cell stands: right of the one before. Its own name wins over
// counting, but it must be of its row and not left of that: otherwise two cells would
// share a place.
func (w *walker) place(e xml.StartElement) error {
	w.column++
	if r := attr(e, "r"); r != "" {
		at, column, ok := sheet.ParseName(r)
		if !ok || at != w.at || column < w.column {
			return w.refuse("a cell in row %d is named %s", w.at, tables.Quote(r))
		}
		w.column = column
	}
	if w.cells++; w.cells > w.sheet.cells { // it was not read before
		w.sheet.cells++
		if w.sheet.book.cells++; w.sheet.book.cells > tables.MaxCells() {
			return w.refuse("%s", tables.TooManyCells())
		}
	}
	return nil
}

// cell reads a cell to its end and adds it to its row, unless it is empty. Programs
// write thousands of empty cells for the sake of their look alone. The reading aid
// within East Asian text is no part of it.
func (w *walker) cell(e xml.StartElement) error {
	if err := w.place(e); err != nil {
		return err
	}
	of, holds := attr(e, "t"), "v"
	if of == "inlineStr" {
		holds = "t"
	}
	grab, formula, aid := false, false, false
	for w.value = w.value[:0]; ; {
		t, err := w.next()
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.CharData:
			if grab {
				w.value = append(w.value, t...)
			}
		case xml.StartElement:
			switch t.Name.Local {
			case "f":
				formula = true
			case "rPh":
				aid = true
			case holds:
				grab = !aid
			}
		case xml.EndElement:
			switch t.Name.Local {
			case holds:
				grab = false
			case "rPh":
				aid = false
			case "c":
				return w.add(of, attr(e, "s"), formula)
			}
		}
	}
}

// add adds a cell whose value was read to its row.
func (w *walker) add(of, style string, formula bool) error {
	kind, text, err := w.holds(of, style, formula)
	if err != nil {
		return w.refuse("cell %s: %v", sheet.Name(w.at, w.column), err)
	}
	if kind == sheet.Empty || kind == sheet.Text && text == "" {
		return nil
	}
	if w.text += int64(len(text)); w.text > tables.MaxBytes() { // shared text counts wherever it stands
		return w.refuse("the sheet's cells hold more than %d MiB of text", tables.MaxBytes()>>20)
	}
	w.row = append(w.row, sheet.Cell{Text: text, Row: int32(w.at), At: int32(w.column), Kind: kind})
	return nil
}

// holds is what a cell of a type and a style holds.
func (w *walker) holds(of, style string, formula bool) (sheet.Kind, string, error) {
	b, v := w.sheet.book, string(w.value)
	if formula {
		if of == "b" || of == "e" || of == "s" {
			v = ""
		}
		return sheet.Formula, strings.TrimSpace(v), nil
	}
	switch of {
	case "s":
		if v == "" {
			return sheet.Empty, "", nil
		}
		i, err := strconv.Atoi(strings.TrimSpace(v))
		if err != nil || i < 0 || i >= len(b.strings) {
			return sheet.Empty, "", fmt.Errorf("there is no shared text %s", tables.Quote(v))
		}
		return sheet.Text, b.strings[i], nil
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
	if n, _ := strconv.Atoi(style); n >= 0 && n < len(b.looks) {
		return b.looks[n], v, nil
	}
	return sheet.Number, v, nil
}
