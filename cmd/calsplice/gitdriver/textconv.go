package gitdriver

import (
	"bufio"
	"io"
	"strconv"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Textconv writes a document with one line per cell, `table[x,y] = value unit`, and
// a line for whatever else it says; a file that is no calibration as it is.
func Textconv(w io.Writer, path string, stdin io.Reader) error {
	data, err := tablefile.Any(path, stdin)
	if err != nil {
		return err
	}
	name := path
	if path == "-" {
		name += "." + tablefile.Sniff(data)
	}
	// Broken in this version or no calibration at all: git shows the text, and a diff
	// of it against a valid version still tells what happened.
	doc, err := parse(data, name)
	if err != nil {
		_, err = w.Write(data)
		return err
	}
	b := bufio.NewWriter(w)
	facts(b, doc)
	for _, t := range doc.Tables() {
		table(b, t)
	}
	return b.Flush()
}

func facts(b *bufio.Writer, doc *tables.Calibration) {
	fact(b, "name", quoted(doc.Name()))
	fact(b, "notes", quoted(doc.Notes()))
	for _, f := range doc.Engine().Facts() {
		fact(b, "engine "+f.Name, f.Text)
	}
	for key, value := range doc.Contents().Extra.Sorted() {
		fact(b, key, value)
	}
}

func fact(b *bufio.Writer, name, value string) {
	if value != "" {
		b.WriteString(tables.Clean(name+": "+value) + "\n")
	}
}

func quoted(s string) string {
	if s == "" {
		return ""
	}
	return strconv.Quote(s)
}

func table(b *bufio.Writer, t *tables.Table) {
	f := t.Fields()
	for _, g := range tables.TableFields.Of(&f) {
		name := f.ID + " " + g.Name
		// Texts are quoted, so that each stays on one line; the rest is as in a report.
		switch p := g.At(&f).(type) {
		case *string:
			if g.Name != "unit" { // it stands beside each value
				fact(b, name, quoted(*p))
			}
		case *tables.Role:
			fact(b, name, string(*p))
		case **tables.Axis:
			axis(b, name, *p)
		case *[]float64:
		default:
			if g.Given(&f) {
				fact(b, name, g.Text(&f))
			}
		}
	}
	cells(b, t)
}

func axis(b *bufio.Writer, name string, a *tables.Axis) {
	if a == nil {
		return
	}
	s := a.Label()
	for key, value := range a.Extra().Sorted() {
		s += ", " + key + " " + value
	}
	fact(b, name, s)
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
