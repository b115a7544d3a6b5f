package tables

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Kind is what a document's tables hold.
type Kind string

// The kinds of document, by the format that each names in its first line.
const (
	Calibrated Kind = "calsplice/1"       // an engine's calibration
	Cells      Kind = "calsplice.cells/1" // cell averages of drive logs
)

func (k Kind) validate() error {
	if k != Calibrated && k != Cells {
		return errors.New(UnknownFormat(string(k), string(Calibrated), string(Cells)))
	}
	return nil
}

// Contents is the plain description of a document. [NewCalibration] makes a
// [Calibration] of it.
type Contents struct {
	Kind   Kind // Calibrated where ""
	Name   string
	Notes  string
	Engine *Engine // nil where the document gives none
	Tables []*Table
	Source []Source // the logs behind cell averages; nil for a calibration
	// State is what cell averages carry so that two documents combine into
	// exactly the cells of both. Its meaning belongs to the package that gathers
	// cells; here it is only kept. Its keys need no "x-".
	State Extra
	Extra Extra
}

// Source is one drive log that cell averages were gathered from.
type Source struct {
	Name    string
	SHA256  string // of the log's bytes, hexadecimal; "" where not known
	Rows    int    // read
	Kept    int    // used
	Dropped []Dropped
}

// Parts are what a log is known by, in the order of every file format; the reasons
// follow them.
func (s *Source) Parts() []Part {
	return []Part{{Name: "name", Text: &s.Name, Must: true}, {Name: "sha256", Text: &s.SHA256, Omit: true},
		{Name: "rows", Whole: &s.Rows, Must: true}, {Name: "kept", Whole: &s.Kept, Must: true}}
}

// Dropped is a number of rows left out for one reason.
type Dropped struct {
	Reason string
	Count  int
}

// Calibration is one document: tables with unique ids in their order, a name,
// notes and facts about the engine; or, of the kind [Cells], cell averages. It
// is immutable.
type Calibration struct {
	c     Contents
	index map[string]int
}

// NewCalibration builds a document. It refuses a table id that stands twice,
// engine facts that are not sound (see [Engine]), and in a calibration empty
// cells.
//
// The document keeps the slices of c: the caller must not change them afterwards.
func NewCalibration(c Contents) (*Calibration, error) {
	if c.Kind == "" {
		c.Kind = Calibrated
	}
	if err := DocumentFields.validate(&c); err != nil {
		return nil, err
	}
	for _, f := range DocumentFields.list {
		if c.Kind == Calibrated && f.OfCells && f.Given(&c) {
			return nil, errors.New(OnlyCells(f.Name))
		}
	}
	if c.Engine.Equal(nil) {
		c.Engine = nil // no fact given is no engine given, in every spelling
	}
	index := make(map[string]int, len(c.Tables))
	for i, t := range c.Tables {
		if first, ok := index[t.ID()]; ok {
			return nil, fmt.Errorf("tables[%d] has the id %q of tables[%d]", i, t.ID(), first)
		}
		index[t.ID()] = i
		if c.Kind == Calibrated {
			if at := slices.IndexFunc(t.f.Values, math.IsNaN); at >= 0 {
				return nil, fmt.Errorf("table %s has no value at %s", t.ID(), t.Place(at))
			}
		}
	}
	return &Calibration{c, index}, nil
}

// OnlyCells is what a reader says of a field that a calibration must not have.
func OnlyCells(name string) string {
	return "a calibration has no " + name + ": it belongs to cell averages"
}

func validSources(list []Source) error {
	for i, s := range list {
		if err := s.validate(); err != nil {
			return fmt.Errorf("source[%d]: %w", i, err)
		}
	}
	return nil
}

func (s Source) validate() error {
	if s.Rows < 0 || s.Kept < 0 {
		return fmt.Errorf("counts of rows must not be negative")
	}
	for i, d := range s.Dropped {
		if slices.ContainsFunc(s.Dropped[:i], func(o Dropped) bool { return o.Reason == d.Reason }) {
			return fmt.Errorf("reason %s stands twice", Quote(d.Reason))
		}
		if err := validText("reason", d.Reason); err != nil {
			return err
		}
		if d.Count < 0 {
			return fmt.Errorf("counts of rows must not be negative")
		}
	}
	return cmp.Or(validText("name", s.Name), validText("sha256", s.SHA256))
}

// Contents is the document's description. Its slices are the document's own:
// copy them before changing any.
func (c *Calibration) Contents() Contents { return c.c }

// Kind says whether values were set by somebody or averaged from drive logs.
func (c *Calibration) Kind() Kind { return c.c.Kind }

// Name is what its user calls it; "" where it has none.
func (c *Calibration) Name() string { return c.c.Name }

// Notes are its user's, in any number of lines.
func (c *Calibration) Notes() string { return c.c.Notes }

// Engine is what is known of the engine; nil where the document says nothing.
func (c *Calibration) Engine() *Engine { return c.c.Engine }

// Tables are the tables in their order. The caller must not change the slice.
func (c *Calibration) Tables() []*Table { return c.c.Tables }

// Table is the table with an id, or nil.
func (c *Calibration) Table(id string) *Table {
	if i, ok := c.index[id]; ok {
		return c.c.Tables[i]
	}
	return nil
}

// ByRole lists the tables with a role.
func (c *Calibration) ByRole(role Role) []*Table {
	var found []*Table
	for _, t := range c.c.Tables {
		if t.Role() == role {
			found = append(found, t)
		}
	}
	return found
}

// IDs lists the tables' ids in their order.
func (c *Calibration) IDs() []string { return Each(c.c.Tables, (*Table).ID) }

// WithTable is the document with one table replaced by another of the same id,
// or added at its end.
func (c *Calibration) WithTable(t *Table) (*Calibration, error) {
	n := c.c
	n.Tables = slices.Clone(n.Tables)
	if i, ok := c.index[t.ID()]; ok {
		n.Tables[i] = t
	} else {
		n.Tables = append(n.Tables, t)
	}
	return NewCalibration(n)
}

// Equal reports whether two documents are the same to the bit.
func (c *Calibration) Equal(o *Calibration) bool {
	return DocumentFields.Different(&c.c, &o.c) == nil && slices.EqualFunc(c.c.Tables, o.c.Tables, (*Table).Equal)
}

// Equal reports whether two sources are the same.
func (s Source) Equal(o Source) bool {
	return s.Name == o.Name && s.SHA256 == o.SHA256 && s.Rows == o.Rows && s.Kept == o.Kept &&
		slices.Equal(s.Dropped, o.Dropped)
}

// UnknownFormat says what is wrong with a document's format where the known
// ones were wanted; it tells a newer version from another format.
func UnknownFormat(found string, known ...string) string {
	family, version, _ := strings.Cut(found, "/")
	quoted := make([]string, len(known))
	for i, k := range known {
		f, own, _ := strings.Cut(k, "/")
		if n, err := strconv.Atoi(version); f == family && err == nil && strconv.Itoa(n) == version && version > own {
			return fmt.Sprintf("found %s: this program reads %s, so the file needs a newer one", Quote(found), k)
		}
		quoted[i] = Quote(k)
	}
	return fmt.Sprintf("found %s, expected %s", Quote(found), strings.Join(quoted, " or "))
}
