package sheet

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// Reader reads cells, and gathers what is wrong with them, each with its place.
type Reader struct {
	File string
	// Sheet is the workbook's sheet that is being read, "" in a text file. In a
	// sheet what stands beside the document is passed over with a caution, and a
	// long text goes on in the next cell; in a text file a field too many is a
	// fault, since a delimiter without quotes looks like one.
	Sheet string
	// Source is the text whose parts the cells are, by which their places are told.
	Source string
	// Within is what the rows belong to, such as "table flow"; a text file's
	// faults name it, which have no sheet.
	Within   string
	Faults   tables.Faults
	Cautions tables.Faults
	// Parse reads a number. Where nil, numbers have decimal points.
	Parse func(Cell) (float64, error)
	stop  bool // nothing more is worth reading
}

// Fault records what is wrong with a cell; the zero Cell is the sheet itself.
func (r *Reader) Fault(c Cell, format string, args ...any) {
	if !r.Full() {
		r.Faults.Add(r.Line(c, format, args...))
	}
}

// Full reports whether reading ends here: there are so many faults that nobody
// reads on, or too many cells.
func (r *Reader) Full() bool { return r.stop || len(r.Faults) >= tables.MaxFaults }

// Stop ends reading: what else is wrong follows from the last fault.
func (r *Reader) Stop() { r.stop = true }

// BreakAt ends reading at a byte of the text.
func (r *Reader) BreakAt(at int, what string) {
	r.Fault(Cell{Pos: int32(at + 1)}, "%s", what)
	r.Stop()
}

// Break ends reading at an error of the file itself.
func (r *Reader) Break(err error) {
	var f *tables.Fault
	if err != nil && !errors.As(err, &f) {
		f = &tables.Fault{File: r.File, What: err.Error()}
	}
	if err != nil {
		r.Faults = append(r.Faults, f)
		r.stop = true
	}
}

// Check records an error as a fault of a cell.
func (r *Reader) Check(c Cell, err error) {
	if err != nil {
		r.Fault(c, "%v", err)
	}
}

// Err is the faults in the order of the rows, or nil where there are none. What
// shows only at a table's end is found after what stands below it.
func (r *Reader) Err() error {
	if r.Sheet == "" && len(r.Faults) < tables.MaxFaults {
		slices.SortStableFunc(r.Faults, func(a, b *tables.Fault) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
	}
	return r.Faults.Err()
}

// Caution records what is passed over in a cell.
func (r *Reader) Caution(c Cell, format string, args ...any) {
	const most = 20
	switch n := len(r.Cautions); {
	case n < most:
		r.Cautions = append(r.Cautions, r.Line(c, format, args...))
	case n == most:
		r.Cautions = append(r.Cautions, &tables.Fault{File: r.File, What: "and more of the same"})
	}
}

// Line is a line about a cell: in a sheet its place is such as "Flow!B2".
func (r *Reader) Line(c Cell, format string, args ...any) *tables.Fault {
	f := &tables.Fault{File: r.File, Path: r.Within, What: fmt.Sprintf(format, args...)}
	switch {
	case r.Sheet != "":
		f.Path = inBook(r.Sheet, c)
	case c.Pos > 0:
		f.Line, f.Column = tables.LineOf(r.Source[:c.Pos-1])
	}
	return f
}

// inBook is the place of a cell of a workbook, such as "Flow!B2".
func inBook(sheet string, c Cell) string {
	switch {
	case c.Row == 0:
		return sheet
	case c.At == 0:
		return fmt.Sprintf("%s!%d", sheet, c.Row)
	}
	return sheet + "!" + Name(int(c.Row), int(c.At))
}

// Remark reports whether a text only explains a form: it begins with "#", and no
// reader reads it.
func Remark(text string) bool { return strings.HasPrefix(strings.TrimSpace(text), "#") }

// readable refuses a cell whose content depends on the program that shows it.
func (r *Reader) readable(c Cell, want string) bool {
	switch c.Kind {
	case Empty, Text, Number:
		return true
	case Formula:
		r.Fault(c, "holds a formula, expected its value (copy it, paste the value)")
	default:
		r.Fault(c, "holds %s, expected %s", c.Kind, want)
	}
	return false
}

// Blank records that a cell is to be filled in, and with what.
func (r *Reader) Blank(c Cell, want string) {
	what := "is empty, expected " + want
	if r.Sheet == "" {
		what = "cell " + what
	}
	r.Fault(c, "%s", what)
}

// Number is a cell's number. It reports false, with the fault recorded, where
// there is none.
func (r *Reader) Number(c Cell) (v float64, ok bool) {
	if !r.readable(c, "a plain number") {
		return 0, false
	}
	if c.Kind == Empty {
		r.Blank(c, "a number")
		return 0, false
	}
	var err error
	if r.Parse != nil {
		v, err = r.Parse(c)
	} else {
		v, err = inSheet(c)
	}
	r.Check(c, err)
	return v, err == nil
}

// inSheet is a number as a workbook holds it: with a point, whatever the program
// shows. Text with a decimal comma was typed into a program that has the point,
// which made thousands of other commas.
func inSheet(c Cell) (float64, error) {
	text := strings.TrimSpace(c.Text)
	v, err := tables.ParseValue(text)
	if point := strings.Replace(text, ",", ".", 1); err != nil && c.Kind == Text {
		if _, wrong := tables.ParseValue(point); wrong == nil {
			err = fmt.Errorf("%s is text: the spreadsheet's own decimal mark is the point; type %s, and look at every number that was typed with a comma, for 2,214 became 2214", tables.Quote(text), point)
		}
	}
	return v, err
}

// Whole is a cell's whole number from a least one on.
func (r *Reader) Whole(c Cell, least int) int {
	v, ok := r.Number(c)
	if ok && !(v == math.Trunc(v) && v >= float64(least) && v < 1<<53) {
		r.Fault(c, "found %s, expected a whole number from %d", tables.Quote(c.Text), least)
		return 0
	}
	return int(v)
}

// Text is a cell's text; a number is text as it is written.
func (r *Reader) Text(c Cell) string {
	r.readable(c, "text")
	return c.Text
}

// Long is the text that begins at a place of a row and, in a sheet, goes on in
// the next cells where it fills one; and the place behind it.
func (r *Reader) Long(row Row, i int) (text string, next int) {
	c := row.At(i)
	if text = r.Text(c); r.Sheet == "" || !fills(c.Text) {
		return text, i + 1
	}
	rest, next := r.Long(row, i+1)
	return text + rest, next
}

// Rest looks at whatever a row holds from a place on, where nothing is read.
func (r *Reader) Rest(row Row, from int) {
	switch i := row.Next(from); {
	case i == 0 || Remark(row.At(i).Text):
	case r.Sheet != "":
		r.Caution(row.At(i), "is beside the document, ignored")
	default:
		n, want := row.Width()-1, from-2
		r.Fault(row.At(i), "%s has %s, expected %d (text that holds the delimiter needs quotes)",
			row.At(1).Text, tables.Plural(n, "field"), want)
	}
}

// Once refuses a name that stands twice among those seen.
func (r *Reader) Once(c Cell, name string, seen map[string]bool) bool {
	twice := seen[name]
	if twice {
		r.Fault(c, "%s stands twice", name)
	}
	seen[name] = true
	return !twice
}

// JSON is the JSON that begins at a place of a row, in compact form; and the
// place behind it.
func (r *Reader) JSON(row Row, i int) (value string, next int, ok bool) {
	c := row.At(i)
	text, next := r.Long(row, i)
	j := strictjson.New([]byte(text), r.File)
	value, ok = j.Raw()
	if faults, bad := j.Err().(tables.Faults); bad {
		r.Fault(c, "%s is not JSON: %s", tables.Quote(text), faults[0].What)
		ok = false
	}
	return value, next, ok
}

// Kept reads a row that ends in a key that is kept and its JSON; prefix stands
// before the key where it is not the key's own.
func (r *Reader) Kept(in *tables.Extra, row Row, key int, prefix string) {
	r.Rest(row, r.kept(in, row, key, prefix))
}

// kept is [Reader.Kept] of a key that others may follow in its row. It returns
// the place behind the value.
func (r *Reader) kept(in *tables.Extra, row Row, key int, prefix string) (next int) {
	name := strings.TrimPrefix(r.Text(row.At(key)), prefix)
	value, next, ok := r.JSON(row, key+1)
	if _, twice := (*in)[name]; twice {
		r.Fault(row.At(key), "%s stands twice", name)
	} else if ok {
		in.Keep(name, value)
	}
	return next
}

// Cells are the cells of a row from a place on.
type Cells struct {
	Row  Row
	From int
}

// Field reads a field from the cells of a row from a place on. It reports
// whether it is given: where all of its cells are empty it is not, which is a
// fault where it must be.
func Field[T any](r *Reader, f tables.Field[T], to *T, in Cells, must bool) (given bool) {
	row, i := in.Row, in.From
	before, parts, next := len(r.Faults), f.Parts(to), i
	given = must
	for k := range parts {
		given = given || row.At(i+k).Kind != Empty
	}
	for k, p := range parts {
		c := row.At(i + k)
		next = i + k + 1
		switch {
		case p.Text != nil && len(parts) == 1:
			*p.Text, next = r.Long(row, i)
		case given && c.Kind == Empty && (p.Text == nil || p.Words != nil):
			r.Blank(c, wanted(p)+" (or delete the row)")
		case p.Text != nil:
			*p.Text = r.Text(c)
		case !given:
		case p.Whole != nil:
			*p.Whole = r.Whole(c, 1)
		default:
			*p.Number, _ = r.Number(c)
		}
		if p.Words != nil {
			*p.Text = strings.TrimSpace(*p.Text)
		}
	}
	r.Rest(row, next)
	switch part, wrong := f.Wrong(to, true); {
	case !given:
		var none T
		f.Take(to, &none)
	case wrong != "" && len(r.Faults) == before:
		r.Fault(row.At(i+part), "%s", wrong)
	}
	return given
}

// wanted is what a part of a field is, in words.
func wanted(p tables.Part) string {
	switch {
	case p.Whole != nil:
		return "a whole number"
	case p.Words == nil:
		return "a number"
	}
	return tables.Listed(p.Words, "or")
}
