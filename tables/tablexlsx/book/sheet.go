package book

import (
	"encoding/xml"
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"calsplice/tables"
)

// Kind is what a cell holds.
type Kind uint8

// The kinds of cell.
const (
	Empty Kind = iota
	Text
	Number
	Formula // Text is the result that the program saved; "" where it saved none
	Date    // a number that the program shows as a date or a time
	Percent // a number that the program shows as a percentage
	Boolean
	Error
)

func (k Kind) String() string {
	return [...]string{"empty", "text", "a number", "a formula", "a date", "a percentage", "a truth value", "an error value"}[k]
}

// Cell is one cell: its text, or its number as the file writes it.
type Cell struct {
	Kind Kind
	Text string
}

// Sheet is one sheet that has been read.
type Sheet struct {
	Name     string
	Comments []Comment // that calsplice did not write
	Hidden   []int     // the rows with cells that the program does not show
	Filtered bool      // a filter has a condition, whether it hides rows yet or not

	part string
	rows []row
}

// Comment is a note that a person hung onto a cell.
type Comment struct{ Cell, Text string }

type row struct {
	at    int
	cells []placed
}

type placed struct {
	column int
	Cell
}

// At is the cell in a row and a column, from 1; an empty one where there is none.
func (s *Sheet) At(r, c int) Cell {
	cells := s.row(r)
	i := sort.Search(len(cells), func(i int) bool { return cells[i].column >= c })
	if i < len(cells) && cells[i].column == c {
		return cells[i].Cell
	}
	return Cell{}
}

// Width is the last column of a row that is not empty; 0 where all are.
func (s *Sheet) Width(r int) int {
	if cells := s.row(r); len(cells) > 0 {
		return cells[len(cells)-1].column
	}
	return 0
}

// Next is the first column of a row, from a column on, that is not empty; 0
// where all are.
func (s *Sheet) Next(r, column int) int {
	cells := s.row(r)
	i := sort.Search(len(cells), func(i int) bool { return cells[i].column >= column })
	if i < len(cells) {
		return cells[i].column
	}
	return 0
}

// Rows lists the rows that are not wholly empty, from the top.
func (s *Sheet) Rows() []int {
	list := make([]int, len(s.rows))
	for i, r := range s.rows {
		list[i] = r.at
	}
	return list
}

func (s *Sheet) row(r int) []placed {
	i := sort.Search(len(s.rows), func(i int) bool { return s.rows[i].at >= r })
	if i < len(s.rows) && s.rows[i].at == r {
		return s.rows[i].cells
	}
	return nil
}

func (b *Book) readSheet(s *Sheet) error {
	if s.part == "" {
		b.Sheets = append(b.Sheets, s)
		return nil
	}
	d, err := b.open(s.part)
	if err != nil {
		return err
	}
	if d == nil {
		return fmt.Errorf("not a sound workbook: the part of its sheet %q is missing", s.Name)
	}
	w := &walker{book: b, sheet: s}
	for {
		t, err := d.next()
		if err != nil {
			return err
		}
		if t == nil {
			break
		}
		if err := w.token(t); err != nil {
			return fmt.Errorf("sheet %q: %w", s.Name, err)
		}
	}
	sort.SliceStable(s.rows, func(i, j int) bool { return s.rows[i].at < s.rows[j].at })
	for i := 1; i < len(s.rows); i++ {
		if s.rows[i].at == s.rows[i-1].at {
			return fmt.Errorf("sheet %q: row %d stands twice", s.Name, s.rows[i].at)
		}
	}
	b.Sheets = append(b.Sheets, s)
	return b.readComments(s)
}

// walker takes the cells out of one sheet's part.
type walker struct {
	book  *Book
	sheet *Sheet

	at      int // the row
	row     row
	hidden  bool // the row
	column  int
	kind    string // the cell's t attribute
	style   int
	formula bool
	value   strings.Builder
	grab    bool // within v, t or f
	phonic  int  // within rPh, the reading aid, whose text is not the cell's
	inline  bool
}

func (w *walker) token(t xml.Token) error {
	switch t := t.(type) {
	case xml.CharData:
		if w.grab && w.phonic == 0 {
			w.value.Write(t)
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
			if len(w.row.cells) > 0 {
				if w.hidden {
					w.sheet.Hidden = append(w.sheet.Hidden, w.row.at)
				}
				w.sheet.rows = append(w.sheet.rows, w.row)
			}
			w.row = row{}
		}
	}
	return nil
}

func (w *walker) start(e xml.StartElement) error {
	switch e.Name.Local {
	case "row":
		w.at, w.column = w.at+1, 0
		if r := attr(e, "r"); r != "" {
			n, err := strconv.Atoi(r)
			if err != nil || n < 1 || n > mostRows {
				return fmt.Errorf("a row is numbered %s", quote(r))
			}
			w.at = n
		}
		w.row = row{at: w.at}
		w.hidden = attr(e, "hidden") == "1" || attr(e, "hidden") == "true" || attr(e, "ht") == "0"
	case "filters", "customFilters", "top10", "dynamicFilter", "colorFilter", "iconFilter":
		w.sheet.Filtered = true
	case "c":
		w.column++
		if r := attr(e, "r"); r != "" {
			at, column, ok := ParseName(r)
			if !ok || at != w.at || column < w.column {
				return fmt.Errorf("a cell in row %d is named %s", w.at, quote(r))
			}
			w.column = column
		}
		if w.book.cells++; w.book.cells > tables.MaxCells() {
			return errors.New(tables.TooManyCells())
		}
		w.kind, w.formula, w.inline = attr(e, "t"), false, false
		w.style, _ = strconv.Atoi(attr(e, "s"))
		w.value.Reset()
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

func (w *walker) endCell() error {
	c, err := w.cell(w.value.String())
	if err != nil {
		return fmt.Errorf("cell %s: %w", Name(w.at, w.column), err)
	}
	if c.Kind == Empty || c.Kind == Text && c.Text == "" {
		return nil
	}
	if w.book.text += int64(len(c.Text)); w.book.text > tables.MaxBytes() { // shared text counts wherever it stands
		return fmt.Errorf("the workbook's cells hold more than %d MiB of text", tables.MaxBytes()>>20)
	}
	w.row.cells = append(w.row.cells, placed{w.column, c})
	return nil
}

func (w *walker) cell(v string) (Cell, error) {
	if w.formula {
		if w.kind == "b" || w.kind == "e" || w.kind == "s" {
			v = ""
		}
		return Cell{Formula, strings.TrimSpace(v)}, nil
	}
	switch w.kind {
	case "s":
		if v == "" {
			return Cell{}, nil
		}
		i, err := strconv.Atoi(strings.TrimSpace(v))
		if err != nil || i < 0 || i >= len(w.book.strings) {
			return Cell{}, fmt.Errorf("there is no shared text %s", quote(v))
		}
		return Cell{Text, w.book.strings[i]}, nil
	case "inlineStr", "str":
		return Cell{Text, unescape(v)}, nil
	case "b":
		return Cell{Boolean, v}, nil
	case "e":
		return Cell{Error, v}, nil
	case "d":
		return Cell{Date, v}, nil
	}
	v = strings.TrimSpace(v)
	if v == "" {
		return Cell{}, nil
	}
	if w.style >= 0 && w.style < len(w.book.looks) {
		return Cell{w.book.looks[w.style], v}, nil
	}
	return Cell{Number, v}, nil
}

// readStrings reads the text that cells share.
func (b *Book) readStrings() error {
	d, err := b.open(b.texts)
	if d == nil || err != nil {
		return err
	}
	var text strings.Builder
	grab, phonic := false, 0
	for {
		t, err := d.next()
		if t == nil || err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.CharData:
			if grab && phonic == 0 {
				text.Write(t)
			}
		case xml.StartElement:
			switch t.Name.Local {
			case "si":
				text.Reset()
			case "t":
				grab = true
			case "rPh":
				phonic++
			}
		case xml.EndElement:
			switch t.Name.Local {
			case "si":
				b.strings = append(b.strings, unescape(text.String()))
			case "t":
				grab = false
			case "rPh":
				phonic--
			}
		}
	}
}

func quote(s string) string {
	if len(s) > 40 {
		s = s[:40] + "…"
	}
	return strconv.Quote(s)
}
