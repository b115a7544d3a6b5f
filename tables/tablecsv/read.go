package tablecsv

import (
	"slices"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
)

// Parse reads a document; name is what errors call it, [tables.Faults] with line and
// column. Cautions are what a person should hear of although it is no fault, a
// line each.
func Parse(data []byte, name string) (c *tables.Calibration, cautions tables.Faults, err error) {
	r := &reader{Document: sheet.NewDocument(name)}
	csv, kind := strictcsv.Begin(&r.Reader, data, "calibration", "cells")
	if kind == "cells" {
		r.Contents.Kind = tables.Cells
	}
	csv.Rows(r.read)
	return r.Calibration()
}

// reader reports which part of a document a line is of.
type reader struct {
	*sheet.Document
	tables bool // the line "table" was met
}

// read reads a line. A blank one ends a table.
func (r *reader) read(row sheet.Row) {
	if row.Width() > 0 || r.AwaitsCurve() && len(row) > 1 {
		r.line(row)
		return
	}
	r.End()
}

var documentNames = append([]string{"table", "end"}, sheet.HeadNames...)

// line reads a line by the word that it begins with.
func (r *reader) line(row sheet.Row) {
	word, names := row[0], documentNames
	if r.Open() {
		names = sheet.TableNames
	}
	switch {
	case word.Text == "table":
		r.End()
		r.Begin(word)
		r.tables = true
		r.Row(row)
	case r.Open() && word.Text != "notes" && slices.Contains(documentNames, word.Text):
		r.Fault(word, "%s belongs to the document, before its first table", word.Text)
	case r.Open() && r.Row(row), !r.Open() && !r.tables && r.Head(row):
	case r.Open() || !r.tables && !sheet.TableName(word.Text):
		r.Fault(word, "%s", tables.Unknown("keyword", word.Text, names))
	case !r.tables:
		r.Fault(word, "%s belongs to a table, and no line table stands before it", word.Text)
	default:
		r.Fault(word, "found %s, expected a line that begins with table or end", tables.Quote(word.Text))
	}
}
