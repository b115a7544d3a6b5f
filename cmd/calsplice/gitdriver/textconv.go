package gitdriver

import (
	"bufio"
	"io"
	"strconv"

	"calsplice/cmd/calsplice/fail"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Textconv writes a document with one line per cell, `table[x,y] = value unit`, and
// a line for whatever else it says; a file that is no calibration as it is.
func Textconv(w io.Writer, path string, stdin io.Reader) {
	data := fail.Must(tablefile.Any(path, stdin))
	name := path
	if path == "-" {
		name += "." + tablefile.Sniff(data)
	}
	b := bufio.NewWriter(w)
	// Broken in this version or no calibration at all: git shows the text, and a diff
	// of it against a valid version still tells what happened.
	if doc, err := parse(data, name); err != nil {
		b.Write(data)
	} else {
		c := doc.Contents()
		fields(b, "", tables.DocumentFields, &c)
		for _, t := range doc.Tables() {
			f := t.Fields()
			fields(b, f.ID+" ", tables.TableFields, &f)
			cells(b, t)
		}
	}
	fail.If(b.Flush())
}

// fields writes a line for each field that is given. Texts are quoted, so that each
// stays on one line; the rest is as in a report. What cell averages carry is none of a
// reader's business.
func fields[T any](b *bufio.Writer, of string, all tables.Fieldset[T], v *T) {
	for _, f := range all.Of(v) {
		name := of + f.Name
		switch p := f.At(v).(type) {
		case *string:
			if *p != "" && f.Name != "unit" { // it stands beside each value
				line(b, name, strconv.Quote(*p))
			}
		case *tables.Role:
			line(b, name, string(*p))
		case **tables.Engine:
			for _, fact := range (*p).Facts() {
				line(b, "engine "+fact.Name, fact.Text)
			}
		case **tables.Axis:
			axis(b, name, *p)
		case *tables.Kind, *[]float64, *[]tables.Source, *tables.Extra:
		default:
			if f.Given(v) {
				line(b, name, f.Text(v))
			}
		}
	}
}

func line(b *bufio.Writer, name, value string) {
	if value != "" {
		b.WriteString(tables.Clean(name+": "+value) + "\n")
	}
}

func axis(b *bufio.Writer, name string, a *tables.Axis) {
	if a == nil {
		return
	}
	s := a.Label()
	for key, value := range a.Extra().Sorted() {
		s += ", " + key + " " + value
	}
	line(b, name, s)
}

// cells writes one line per cell. Cells are named by their coordinates, so that a
// breakpoint put in moves no other line.
func cells(b *bufio.Writer, t *tables.Table) {
	unit := ""
	if t.Unit() != "" {
		unit = " " + tables.Clean(t.Unit())
	}
	// One buffer for all lines: git calls this for every version in a log.
	buf := make([]byte, 0, 64)
	for r := range t.Rows() {
		for c := range t.Columns() {
			buf = append(buf[:0], t.ID()...)
			if t.X() != nil {
				buf = tables.AppendValue(append(buf, '['), t.X().At(c))
				if t.Y() != nil {
					buf = tables.AppendValue(append(buf, ','), t.Y().At(r))
				}
				buf = append(buf, ']')
			}
			buf = tables.AppendValue(append(buf, " = "...), t.At(r, c))
			b.Write(append(append(buf, unit...), '\n'))
		}
	}
}
