package changefile

import (
	"io"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
)

// WriteCSV writes a change set as CSV: what belongs to the whole set in lines
// under keywords, a blank line, the headings, a row for each edit, and the line
// end. What is not of a row's kind stays empty, so that everything stands under
// its heading.
func WriteCSV(w io.Writer, cs *merge.ChangeSet) error {
	l := strictcsv.NewWriter(w)
	l.Row("calsplice", "1", "changes")
	writeHead(l, cs, false)
	l.Blank()
	l.Row(headings[0], headings[1:]...)
	var shown row
	columns := shown.columns()
	list(cs, func(r row) {
		shown = r
		l.Name(r.Edit)
		for i, p := range columns {
			switch {
			case i == 0:
			case !r.holds(i, p):
				l.Word("")
			case (p.Name == "from" || p.Name == "to") && !r.isText():
				l.JSON(*p.Text)
			default:
				sheet.WriteParts(l, columns[i:i+1])
			}
		}
	})
	l.Blank()
	l.Row("end")
	return l.Close()
}

// ParseCSV reads a change set from CSV; name is what errors call the input. A
// caution says where the last line "end" is missing.
func ParseCSV(data []byte, name string) (*merge.ChangeSet, tables.Faults, error) {
	r := newListReader(name)
	csv, _ := strictcsv.Begin(&r.Reader, data, "changes")
	csv.Rows(func(row sheet.Row) {
		if row.Width() > 0 {
			r.read(row)
		} else {
			r.flush()
		}
	})
	r.done()
	return r.end()
}
