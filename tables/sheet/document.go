package sheet

import (
	"math"
	"strings"

	"calsplice/tables"
)

// Document reads a calibration or cell averages from rows. Whoever knows the
// file format hands it each row by what it is part of: [Document.Head] for the
// document, and [Document.Begin], [Document.Row] and [Document.End] for a table.
type Document struct {
	Reader
	Contents tables.Contents
	seen     map[string]bool
	ids      map[string]func() string // a table's id, and where it stands
	cells    int
	table    *table // the one that is being read; nil between them
}

// NewDocument begins a document.
func NewDocument(file string) *Document {
	return &Document{Reader: Reader{File: file}, seen: map[string]bool{}, ids: map[string]func() string{},
		Contents: tables.Contents{Kind: tables.Calibrated}}
}

// HeadNames are the names of the rows that [Document.Head] reads, but for kept
// keys.
var HeadNames = []string{"name", "notes", "engine", "source", "dropped", "state"}

// Head reads a row about the whole document. It reports false for a name that no
// such row has.
func (d *Document) Head(row Row) bool {
	name := strings.TrimSpace(row.At(1).Text)
	if (name == "source" || name == "dropped" || name == "state") && d.Contents.Kind != tables.Cells {
		d.Fault(row.At(1), "%s", tables.OnlyCells(name))
		return true
	}
	switch {
	case Remark(name):
	case name == "name" || name == "notes":
		f, _ := tables.DocumentFields.Find(name)
		d.Once(row.At(1), name, d.seen)
		Field(&d.Reader, f, &d.Contents, Cells{row, 2}, false)
	case name == "engine":
		d.fact(row)
	case name == "source":
		d.source(row)
	case name == "dropped":
		if n := len(d.Contents.Source); n > 0 {
			d.dropped(&d.Contents.Source[n-1], row, 2)
			d.Rest(row, 4)
		} else {
			d.Fault(row.At(1), `no row "source" stands above it`)
		}
	case name == "state":
		d.Kept(&d.Contents.State, row, 2, "")
	case strings.HasPrefix(name, "x-"):
		d.Kept(&d.Contents.Extra, row, 1, "")
	default:
		return false
	}
	return true
}

// fact reads a row of a fact about the engine, whose cells begin with its name.
func (d *Document) fact(row Row) {
	c := row.At(2)
	name := d.Text(c)
	if d.Contents.Engine == nil {
		d.Contents.Engine = &tables.Engine{}
	}
	e := d.Contents.Engine
	f, known := tables.EngineFields.Find(name)
	switch {
	case name == "":
		d.Fault(row.At(1), "engine has no fact, expected engine, its name and its value")
	case !known:
		d.Fault(c, "%s", tables.Unknown("engine fact", name, tables.EngineFields.Names()))
	case strings.HasPrefix(name, "x-"):
		d.Kept(&e.Extra, row, 2, "")
	case d.Once(c, "engine "+name, d.seen):
		Field(&d.Reader, f, e, Cells{row, 3}, true)
	}
}

// source reads a row of a log: its name, hash, rows and kept rows, and in a text
// file each reason with the number of rows that it took.
func (d *Document) source(row Row) {
	s := tables.Source{Name: d.Text(row.At(2)), SHA256: d.Text(row.At(3)), Rows: d.Whole(row.At(4), 0), Kept: d.Whole(row.At(5), 0)}
	next := 6
	for ; d.Sheet == "" && row.Next(next) > 0; next += 2 {
		d.dropped(&s, row, next)
	}
	d.Rest(row, next)
	d.Contents.Source = append(d.Contents.Source, s)
}

// dropped reads a reason and the number of rows that went for it.
func (d *Document) dropped(s *tables.Source, row Row, i int) {
	s.Dropped = append(s.Dropped, tables.Dropped{Reason: d.Text(row.At(i)), Count: d.Whole(row.At(i+1), 0)})
}

// Calibration is the document, with cautions, or all that is wrong with it.
func (d *Document) Calibration() (c *tables.Calibration, cautions tables.Faults, err error) {
	if err = d.Err(); err == nil {
		c, err = tables.NewCalibration(d.Contents)
	}
	if err != nil {
		return nil, nil, tables.In(d.File, 0, 0, d.Sheet, err)
	}
	return c, d.Cautions, nil
}

// value is a table's cell, which may be empty among cell averages.
func (d *Document) value(c Cell) float64 {
	if c.Kind == Empty && d.Contents.Kind == tables.Cells {
		return math.NaN()
	}
	v, _ := d.Number(c)
	return v
}
