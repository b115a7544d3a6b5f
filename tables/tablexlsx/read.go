package tablexlsx

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tablexlsx/book"
)

// Read reads a document that [Write] wrote, edited or not; name is what errors
// call the input. The cautions name what the workbook holds beside the document
// and does not pass on.
func Read(in io.ReaderAt, size int64, name string) (*tables.Calibration, []string, error) {
	b, err := book.Open(in, size)
	if err != nil {
		return nil, nil, &tables.Fault{File: name, What: err.Error()}
	}
	r := &Reader{File: name}
	c := r.document(b)
	if err := r.Faults.Err(); err != nil {
		return nil, nil, err
	}
	return c, Said(name, b.Cautions, r.Cautions), nil
}

// Said puts the file's name before each caution.
func Said(name string, lists ...[]string) (all []string) {
	for _, list := range lists {
		for _, s := range list {
			all = append(all, tables.Clean(name)+": "+s)
		}
	}
	return all
}

// Reader gathers what is wrong with a workbook's cells, each with its place,
// and what is passed over.
type Reader struct {
	File     string
	Faults   tables.Faults
	Cautions []string
}

// Fault notes what is wrong with a cell; with row 0, with a sheet.
func (r *Reader) Fault(s *book.Sheet, row, column int, format string, args ...any) {
	const most = 100 // lines that nobody reads
	if len(r.Faults) >= most {
		return
	}
	r.Faults = append(r.Faults, &tables.Fault{File: r.File, Path: place(s, row, column), What: fmt.Sprintf(format, args...)})
}

// Caution notes what is passed over in a cell.
func (r *Reader) Caution(s *book.Sheet, row, column int, format string, args ...any) {
	const most = 20
	switch n := len(r.Cautions); {
	case n < most:
		r.Cautions = append(r.Cautions, tables.Clean(place(s, row, column))+": "+fmt.Sprintf(format, args...))
	case n == most:
		r.Cautions = append(r.Cautions, "and more of the same")
	}
}

func place(s *book.Sheet, row, column int) string {
	if row == 0 {
		return s.Name
	}
	return s.Name + "!" + book.Name(row, column)
}

// Number is a cell's number. An empty cell is reported by ok; anything else
// that is no number is a fault.
func (r *Reader) Number(s *book.Sheet, row, column int) (v float64, ok bool) {
	c := s.At(row, column)
	switch c.Kind {
	case book.Number, book.Text:
		text := strings.TrimSpace(c.Text)
		v, err := tables.ParseValue(text)
		switch point := strings.Replace(text, ",", ".", 1); {
		case err == nil:
		case c.Kind == book.Text && isNumber(point):
			r.Fault(s, row, column, "%s is text: the spreadsheet's own decimal mark is the point; type %s, and look at every number that was typed with a comma, for 2,214 became 2214", tables.Quote(text), point)
		default:
			r.Fault(s, row, column, "%v", err)
		}
		return v, true
	case book.Empty:
		return 0, false
	case book.Formula:
		r.Fault(s, row, column, "holds a formula, want its value (copy it, paste the value)")
	default:
		r.Fault(s, row, column, "holds %s, want a plain number", c.Kind)
	}
	return 0, true
}

func isNumber(s string) bool {
	_, err := tables.ParseValue(s)
	return err == nil
}

// Text is a cell's text; a number is text as it is written.
func (r *Reader) Text(s *book.Sheet, row, column int) string {
	c := s.At(row, column)
	r.readable(s, row, column, c)
	return c.Text
}

// Long is [Reader.Text] of text that goes on in the next cells where it is long.
func (r *Reader) Long(s *book.Sheet, row, column int) (text string, next int) {
	r.readable(s, row, column, s.At(row, column))
	return s.Long(row, column)
}

func (r *Reader) readable(s *book.Sheet, row, column int, c book.Cell) {
	switch c.Kind {
	case book.Empty, book.Text, book.Number:
	case book.Formula:
		r.Fault(s, row, column, "holds a formula, want text")
	default:
		r.Fault(s, row, column, "holds %s, want text", c.Kind)
	}
}

// remark reports whether a text only explains a form: it begins with "#".
func remark(text string) bool { return strings.HasPrefix(strings.TrimSpace(text), "#") }

// Nothing says that whatever a row holds from a column on is passed over.
func (r *Reader) Nothing(s *book.Sheet, row, from int) {
	if column := s.Next(row, from); column > 0 && !remark(s.At(row, column).Text) {
		r.Caution(s, row, column, "is beside the document, ignored")
	}
}

func (r *Reader) document(b *book.Book) *tables.Calibration {
	var contents *book.Sheet
	var sheets, states []*book.Sheet
	for _, s := range b.Sheets {
		switch first := strings.TrimSpace(s.At(1, 1).Text); {
		case first == rowFormat && contents == nil:
			contents = s
		case first == rowTable:
			sheets = append(sheets, s)
		case first == rowState:
			states = append(states, s)
		case len(s.Rows()) > 0 && !remark(s.At(s.Rows()[0], 1).Text):
			r.Caution(s, 0, 0, "the sheet is no table, ignored")
		}
	}
	if contents == nil {
		r.Faults = append(r.Faults, &tables.Fault{File: r.File,
			What: `no sheet begins with "format": this is a workbook, but no document of calsplice`})
		return nil
	}
	k := &contentsReader{Reader: r, s: contents, d: tables.Contents{Kind: tables.Calibrated}}
	k.read()
	for _, s := range states {
		k.state(s)
	}
	k.d.State = sorted(k.d.State)
	seen := map[string]string{}
	for _, s := range sheets {
		t := r.Table(s, k.d.Kind == tables.Cells)
		if t == nil {
			continue
		}
		if first, ok := seen[t.ID()]; ok {
			r.Fault(s, 1, 2, "id %s stands on the sheet %s already", tables.Quote(t.ID()), tables.Quote(first))
			continue
		}
		seen[t.ID()] = s.Name
		k.d.Tables = append(k.d.Tables, t)
	}
	if len(r.Faults) > 0 {
		return nil
	}
	k.compare(seen)
	c, err := tables.NewCalibration(k.d)
	if err != nil {
		r.Fault(contents, 0, 0, "%v", err)
	}
	return c
}

// readField reads a field that stands in a row from a column on, and tells the
// column after it. Axes and values have cells of their own.
func readField[T any](r *Reader, f tables.Field[T], to *T, s *book.Sheet, row, column int) (next int) {
	before, given := len(r.Faults), true
	next = column + 1
	switch p := f.At(to).(type) {
	case *string:
		*p, next = r.Long(s, row, column)
	case *tables.Role:
		*p = tables.Role(strings.TrimSpace(r.Text(s, row, column)))
	case *int:
		*p = r.count(s, row, column)
	case *float64:
		*p, given = r.Number(s, row, column)
	case **tables.Limits:
		*p = r.limits(s, row, column)
		next++
	case **tables.Measure:
		*p = &tables.Measure{Value: r.needed(s, row, column), Unit: r.Text(s, row, column+1)}
		next++
	case **tables.RailPressure:
		*p = &tables.RailPressure{Value: r.needed(s, row, column), Unit: r.Text(s, row, column+1),
			RelativeTo: tables.Reference(strings.TrimSpace(r.Text(s, row, column+2)))}
		if (*p).RelativeTo == "" {
			r.Fault(s, row, column+2, blank, fmt.Sprintf("%s, %s or %s", tables.Atmosphere, tables.Manifold, tables.Absolute))
		} else if err := (*p).RelativeTo.Validate(); err != nil {
			r.Fault(s, row, column+2, "%s is %v", f.Name, err)
		}
		next += 2
	}
	if wrong := f.Wrong(to); given && wrong != "" && len(r.Faults) == before {
		r.Fault(s, row, column, "%s is %s", f.Name, wrong)
	}
	return next
}

// blank is what a reader says of a cell that a person still has to fill in.
const blank = "is empty, want %s (or delete the row)"

// needed is a number that must be there.
func (r *Reader) needed(s *book.Sheet, row, column int) float64 {
	v, ok := r.Number(s, row, column)
	if !ok {
		r.Fault(s, row, column, blank, "a number")
	}
	return v
}

func (r *Reader) limits(s *book.Sheet, row, column int) *tables.Limits {
	low, okLow := r.Number(s, row, column)
	high, okHigh := r.Number(s, row, column+1)
	switch {
	case okLow != okHigh:
		r.Fault(s, row, column, "limits are one number, want a lower and a higher")
	case okLow:
		return &tables.Limits{Low: low, High: high}
	}
	return nil
}

// keep reads a kept "x-…" row's JSON.
func (r *Reader) keep(extra *[]tables.ExtraKey, key string, s *book.Sheet, row, column int) {
	text, next := r.Long(s, row, column)
	r.Nothing(s, row, next)
	compact, err := compactJSON(text)
	if err != nil {
		r.Fault(s, row, column, "key %s: %v", tables.Quote(key), err)
		return
	}
	for _, k := range *extra {
		if k.Key == key {
			r.Fault(s, row, 1, "key %s stands twice", tables.Quote(key))
			return
		}
	}
	*extra = append(*extra, tables.ExtraKey{Key: key, Value: compact})
}

func sorted(keys []tables.ExtraKey) tables.Extra {
	tables.SortKeys(keys)
	return keys
}

// Format is what a workbook calls itself on its contents sheet, such as
// "calsplice/1"; "" where it is no workbook or none of calsplice.
func Format(data []byte) (format string) {
	book.OpenUntil(bytes.NewReader(data), int64(len(data)), func(s *book.Sheet) bool {
		if strings.TrimSpace(s.At(1, 1).Text) == rowFormat {
			format = strings.TrimSpace(s.At(1, 2).Text)
		}
		return format != ""
	})
	return format
}
