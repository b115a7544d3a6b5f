package view

import (
	"bytes"
	"cmp"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/blocks"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// Decide is what a person decides on a page, as data for its script: which
// edits to keep, or how conflicts are resolved. The script saves Head, the
// entries of what was decided, and Tail; their texts are the very ones of the
// file, so that nothing changes on the way but what was typed.
type Decide struct {
	Conflicts bool           `json:"conflicts"`       // else edits
	Head      string         `json:"head" clean:"no"` // of the file
	Tail      [2]string      `json:"tail"`            // before and behind the count of what was left out, of conflicts the first only
	Tables    []*Decided     `json:"tables"`
	Choices   []Choice       `json:"choices"`
	FullLoad  *Fuel          `json:"full_load"`
	index     map[string]int // of the tables, by id
}

// Decided is a table that is decided about: what stands before any decision, and
// what holds a typed value. One without values has changed as a whole.
type Decided struct {
	Name     string          `json:"name"`
	Unit     string          `json:"unit"`
	X        []string        `json:"x"` // breakpoints with their unit
	Y        []string        `json:"y"`
	Columns  int             `json:"columns"`
	Values   []tables.Number `json:"values"` // null: an empty cell
	Step     float64         `json:"step"`
	Limits   *[2]float64     `json:"limits"`
	Decimals int             `json:"decimals"`
	Groups   []string        `json:"groups"`   // what each group of choices is called
	Rises    bool            `json:"rises"`    // its values are expected to rise: flow with pressure
	Relative bool            `json:"relative"` // changes are given in per cent

	id string
}

// Choice is one edit or one conflict. Raw is its text in the file, without
// braces: of a conflict its place alone.
type Choice struct {
	Raw   string `json:"raw" clean:"no"`
	Table int    `json:"table"`
	Cell  int    `json:"cell"` // among the table's values; −1 is no cell
	Group int    `json:"group"`
	Words string `json:"words,omitempty"` // what it is, where it is no cell
	Note  string `json:"note,omitempty"`  // its evidence
	Meter int    `json:"meter,omitempty"` // evidence, from 1 (too thin to act on) to 5; 0 is none
	Typed string `json:"typed,omitempty"` // what may be typed: number or text
	Sides []Side `json:"sides,omitempty"` // of a conflict: ours, theirs, base

	to tables.Number // of an edit of a cell: the value that it makes
}

// Side is what one of the three documents of a merge holds.
type Side struct {
	Text  string        `json:"text"`
	Value tables.Number `json:"value"` // of a cell
}

// decideEdits is the review of a change set to a calibration.
func decideEdits(before, after *tables.Calibration, set *merge.ChangeSet) *Decide {
	d := &Decide{index: map[string]int{}, Tables: []*Decided{}, Choices: []Choice{}}
	frame := *set
	frame.Edits, frame.LeftOut = nil, 1
	text := written(&frame)
	d.Head, text, _ = strings.Cut(text, `"edits": []`)
	d.Head += `"edits": [`
	d.Tail[0], d.Tail[1], _ = strings.Cut(text, `"left_out": 1`)
	d.Tail[0] = "]" + d.Tail[0] + `"left_out": `
	for _, e := range set.Edits {
		d.table(e.On(), before.Table(e.On()))
	}
	blocks := d.blocks(before, after)
	for _, e := range set.Edits {
		d.Choices = append(d.Choices, d.edit(e, blocks[e.On()]))
	}
	d.writeAll()
	return d
}

// written is the file of a change set.
func written(set *merge.ChangeSet) string {
	var b bytes.Buffer
	changefile.WriteJSON(&b, set) // a buffer takes all
	return b.String()
}

// table is the place of a table among those that are decided about. "" is the
// document itself.
func (d *Decide) table(id string, t *tables.Table) int {
	if i, ok := d.index[id]; ok {
		return i
	}
	s := &Decided{id: id, Name: id, Columns: 1}
	switch {
	case id == "":
		s.Name = "The calibration itself"
	case t != nil:
		s.describe(t)
	}
	d.index[id] = len(d.Tables)
	d.Tables = append(d.Tables, s)
	return d.index[id]
}

func (s *Decided) describe(t *tables.Table) {
	s.Name, s.Unit, s.Step, s.Columns = named(t), t.Unit(), t.Resolution(), t.Columns()
	s.X, s.Y = places(t.X()), places(t.Y())
	if l := t.Limits(); l != nil {
		s.Limits = &[2]float64{l.Low, l.High}
	}
	s.Rises = t.Role() == tables.InjectorFlow && t.Y() == nil && t.X() != nil && t.X().Quantity() == tables.DifferentialPressure
	s.Relative = t.Role() == tables.InjectorFlow || t.Role() == tables.AirMeter || t.Role() == tables.AirVolumetricEfficiency
	for _, v := range t.Values() {
		s.Values = append(s.Values, tables.Number(v))
	}
	s.Decimals = tables.Decimals(t.Resolution())
}

// named is what a person calls a table.
func named(t *tables.Table) string { return cmp.Or(t.Title(), t.ID()) }

func places(a *tables.Axis) []string {
	list := headings(a)
	for i := range list {
		list[i] = strings.TrimSpace(list[i] + " " + a.Unit())
	}
	return list
}

// blocks are the stretches of cells that one rule explains, by table, each a group of
// its table. What none holds is in the last group.
func (d *Decide) blocks(before, after *tables.Calibration) map[string][]blocks.Block {
	list := map[string][]blocks.Block{}
	if after == nil {
		return nil
	}
	for _, b := range merge.Compare(before, after, merge.Tolerance{}, merge.Selection{}).Blocks {
		i, ok := d.index[b.Table]
		t := after.Table(b.Table)
		if b.Changed < 2 || !ok || t == nil {
			continue
		}
		list[b.Table] = append(list[b.Table], b)
		d.Tables[i].Groups = append(d.Tables[i].Groups, b.Rule(t.Unit())+": "+stretchWords(t, b))
	}
	for _, s := range d.Tables {
		s.Groups = append(s.Groups, "Other edits")
	}
	return list
}

// edit is the choice about an edit, given the blocks of its table.
func (d *Decide) edit(e merge.Edit, found []blocks.Block) Choice {
	i := d.index[e.On()]
	s := d.Tables[i]
	c := Choice{Raw: changefile.Entry(e), Table: i, Cell: -1, Group: len(s.Groups) - 1}
	switch e := e.(type) {
	case *merge.CellEdit:
		c.Typed, c.to = "number", tables.Number(e.To)
		if s.Values != nil {
			c.Cell = e.Row*s.Columns + e.Column
		}
		if k := slices.IndexFunc(found, func(b blocks.Block) bool { return b.Has(e.Table, e.Row, e.Column) }); k >= 0 {
			c.Group = k
		}
		c.Note, c.Meter = e.Why.Words(), meter(e.Why)
	case *merge.FieldEdit:
		c.Words = fieldWords(e)
		if e.Of(merge.WholeTable) || e.Whole() != nil {
			s.Values = nil // they are others
		}
		if t := e.To.Table; t != nil {
			s.describe(t)
			s.Values = nil
		}
	}
	return c
}

// fieldWords says what becomes of fields that change together.
func fieldWords(e *merge.FieldEdit) string {
	switch {
	case e.Of(merge.TableOrder):
		return "order of the tables"
	case e.To.Table != nil:
		return "table added, " + shapeWords(e.To.Table)
	case e.From.Table != nil:
		return "table removed, " + shapeWords(e.From.Table)
	}
	var list []string
	for _, n := range e.Names {
		f, ok := merge.FieldsOf(e.Table).Find(n)
		switch {
		case !ok || n == "values":
			list = append(list, n)
		default:
			list = append(list, n+": "+cmp.Or(f.Text(&e.From), "none")+" → "+cmp.Or(f.Text(&e.To), "none"))
		}
	}
	return strings.Join(list, "; ")
}

// meter is how much evidence there is, in parts of a bar: from 1, 3, 6, 15 and
// 30 visits. Common practice, no source.
func meter(w *merge.Evidence) int {
	if w == nil || w.Count == 0 {
		return 0
	}
	n := 0
	for _, visits := range []int{1, 3, 6, 15, 30} {
		if w.Visits >= visits {
			n++
		}
	}
	if w.Count < fewSamples {
		n = min(n, 1)
	}
	return n
}

// mostDecimals is how many decimals a page shows of a value at most; a field shows
// all of them.
const mostDecimals = 6

// writeAll has as many decimals as the values that a page shows need.
func (d *Decide) writeAll() {
	write := func(s *Decided, list []tables.Number) {
		for _, v := range list {
			if v.Known() {
				s.Decimals = min(max(s.Decimals, tables.Decimals(float64(v))), mostDecimals)
			}
		}
	}
	for _, s := range d.Tables {
		write(s, s.Values)
	}
	for i := range d.Choices {
		write(d.Tables[d.Choices[i].Table], d.Choices[i].targets())
	}
}

// targets are the values that a cell may take, without what is typed.
func (c *Choice) targets() []tables.Number {
	if c.Sides == nil {
		return []tables.Number{c.to}
	}
	return tables.Each(c.Sides, func(s Side) tables.Number { return s.Value })
}

// cells are a table's values as they stand with everything kept, and which of
// them are decided about.
func (d *Decide) cells(i int) (values []tables.Number, decided map[int]bool) {
	values, decided = slices.Clone(d.Tables[i].Values), map[int]bool{}
	for k := range d.Choices {
		c := &d.Choices[k]
		if c.Table != i || c.Cell < 0 {
			continue
		}
		decided[c.Cell] = true
		values[c.Cell] = c.targets()[0]
	}
	return values, decided
}

// part marks a part as the one in which a table is decided about.
func (d *Decide) part(p *Part, id string) {
	if d == nil {
		return
	}
	if i, ok := d.index[id]; ok {
		p.Decide = i + 1
	}
}

// rest are parts for tables that no other part is about, such as those whose
// differences the tolerance hides.
func (d *Decide) rest(parts []Part) (more []Part) {
	if d == nil {
		return nil
	}
	for i, s := range d.Tables {
		if !slices.ContainsFunc(parts, func(p Part) bool { return p.Decide == i+1 }) {
			more = append(more, Part{Heading: s.Name, Decide: i + 1, On: OnPages})
		}
	}
	return more
}

// mergedHead is the beginning of a file of decisions about a merged document.
func mergedHead(doc *tables.Calibration, format string) string {
	return "{\n  \"format\": " + quoteJSON(format) + ",\n  \"merged\": {\"name\": " + quoteJSON(doc.Name()) +
		", \"sha256\": " + quoteJSON(tablejson.SHA256(doc)) + "},\n  \"decisions\": ["
}

func quoteJSON(s string) string { return string(strictjson.AppendText(nil, s)) }
