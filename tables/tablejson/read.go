package tablejson

import (
	"fmt"
	"io"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// Read reads a document: a calibration or cell averages. Its errors are
// [tables.Faults] with line, column and path; name is what they call the input.
func Read(r io.Reader, name string) (*tables.Calibration, error) {
	data, err := strictjson.ReadAll(r, name)
	if err != nil {
		return nil, err
	}
	return Parse(data, name)
}

// Parse is [Read] of bytes that are in memory already.
func Parse(data []byte, name string) (*tables.Calibration, error) {
	d := &documentReader{Reader: Reader{Reader: strictjson.New(data, name)}, ids: map[string]string{}}
	d.read()
	if err := d.Err(); err != nil {
		return nil, err
	}
	c, err := tables.NewCalibration(d.c)
	if err != nil {
		return nil, tables.In(name, 0, 0, "", err)
	}
	return c, nil
}

// documentReader gathers one document. A key may stand before the format that
// says whether it is allowed, so what depends on it is judged at the end.
type documentReader struct {
	Reader
	c         tables.Contents
	format    string
	formatAt  int
	hasFormat bool
	isText    bool
	onlyCells []later
	ids       map[string]string // id to the path of the table that has it
	cells     int
}

// later is a place that is a fault if the document turns out a calibration.
type later struct {
	at         int
	path, what string
}

var documentKeys = strictjson.Keys{
	Known: append(tables.DocumentFields.Names(), "tables"),
}

// read reads the outermost object. What only cell averages may have is noted
// where it stands, and judged at the end: the format may be the last key.
func (d *documentReader) read() {
	d.EmptyCell = func(at int) {
		if d.format != string(tables.Cells) && len(d.onlyCells) <= strictjson.MaxFaults {
			d.onlyCells = append(d.onlyCells, later{at, d.Path(), "found null, want a number: only cell averages have empty cells"})
		}
	}
	start := d.Mark()
	ok := d.Object(documentKeys, &d.c.Extra, func(key string) {
		at := d.Mark()
		switch key {
		case "format":
			d.formatAt, d.hasFormat = at, true
			if d.format, d.isText = d.Text(); d.isText && d.OK() {
				d.known()
			}
		case "tables":
			d.Array(d.table)
		default:
			f, _ := tables.DocumentFields.Find(key)
			if f.OfCells {
				d.onlyCells = append(d.onlyCells, later{at, key, tables.OnlyCells(key)})
			}
			Field(&d.Reader, f, &d.c)
		}
	})
	if !ok && !d.hasFormat {
		return
	}
	if !d.hasFormat {
		d.Fault(start, "", fmt.Sprintf(`has no "format", want %q or %q`, tables.Calibrated, tables.Cells))
		return
	}
	if d.isText {
		d.known()
	}
	d.c.Kind = tables.Kind(d.format)
	if d.c.Kind == tables.Calibrated {
		for _, l := range d.onlyCells {
			d.FaultAt(l.at, l.path, l.what)
		}
	}
}

// known ends reading at a format that this reader does not know: whatever else
// it would find wrong follows from that.
func (d *documentReader) known() {
	if d.format != string(tables.Calibrated) && d.format != string(tables.Cells) {
		d.Only(d.formatAt, "format", tables.UnknownFormat(d.format, string(tables.Calibrated), string(tables.Cells)))
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
