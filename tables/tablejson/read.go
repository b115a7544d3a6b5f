package tablejson

import (
	"fmt"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// Parse reads a document: a calibration or cell averages. Its errors are
// [tables.Faults] with line, column and path; name is what they call the input. What a
// document may hold depends on its format, which is looked for first: its key may be
// the last.
func Parse(data []byte, name string) (*tables.Calibration, error) {
	d := &documentReader{Reader: Reader{Reader: strictjson.New(data, name)}, ids: map[string]string{}}
	d.c.Kind = tables.Kind(strictjson.Format(data))
	d.Empty = d.c.Kind != tables.Calibrated
	d.read()
	if err := d.Err(); err != nil {
		return nil, err
	}
	c, err := tables.NewCalibration(d.c)
	return c, tables.In(name, 0, 0, "", err)
}

// documentReader gathers one document.
type documentReader struct {
	Reader
	c     tables.Contents
	ids   map[string]string // id to the path of the table that has it
	cells int
}

// read reads the outermost object.
func (d *documentReader) read() {
	start, list := d.Mark(), tables.DocumentFields.Of()
	parts := fields(&d.Reader, tables.DocumentFields, &d.c, 0)
	for i, f := range list {
		if f.OfCells && d.c.Kind == tables.Calibrated {
			parts[i].At = Custom{Read: func() {
				d.Fault(d.Mark(), "", tables.OnlyCells(f.Name))
				Field(&d.Reader, f, &d.c)
			}}
		}
	}
	parts[0] = d.FormatPart(string(tables.Calibrated), string(tables.Cells))
	parts[0].Must = false // since it is missed with more words
	parts = append(parts, tables.Part{Name: "tables", At: Custom{Read: func() { d.Array(d.table) }}})
	if marks := d.Parts(parts, &d.c.Extra); marks[0] == 0 {
		d.Fault(start, "", fmt.Sprintf(`has no "format", expected %q or %q`, tables.Calibrated, tables.Cells))
	}
}

// table reads one table of the list. An id that stands twice names the first
// one's place, since a person must look at both.
func (d *documentReader) table(int) {
	at, path := d.Mark(), d.Path()
	t := d.Table()
	if t == nil {
		return
	}
	if first, ok := d.ids[t.ID()]; ok {
		d.FaultAt(at, path+".id", fmt.Sprintf("%s has the id %q too", first, t.ID()))
		return
	}
	d.ids[t.ID()] = path
	if d.cells += len(t.Values()); d.cells > tables.MaxCells() {
		d.Only(at, path, tables.TooManyCells())
	}
	d.c.Tables = append(d.c.Tables, t)
}
