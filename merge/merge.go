package merge

import (
	"cmp"
	"fmt"
	"slices"

	"calsplice/merge/surface"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// MergeOptions change how a merge goes. The zero options merge exactly and list
// every conflict.
type MergeOptions struct {
	// Prefer settles conflicts for one side, [Ours] or [Theirs]; "" lists them.
	Prefer Side
	// Tolerance takes two edits of a cell for one where they are no further
	// apart, and an edit for none where it is no larger and the other side
	// edited too. What it settles is counted.
	Tolerance *Tolerance
}

// Side is one of the three documents of a merge, or what replaces all three.
type Side string

// The three documents, by the words that files and flags have for them.
const (
	Original Side = "base"
	Ours     Side = "ours"
	Theirs   Side = "theirs"

	// Typed is what a person typed instead: see [Conflict.Typed].
	Typed Side = "typed"
)

// MergeResult is a merged document, always sound: where the sides conflict it
// holds ours.
type MergeResult struct {
	Merged      *tables.Calibration
	Conflicts   []Conflict
	Settled     []Conflict // by Prefer
	Hidden      int        // cells that the tolerance settled
	Carried     int        // cells with the other side's difference carried onto moved axes
	Notes       []string   // what was carried, and what else a person should know
	SideEffects []string   // what the merge newly causes: see [Caused]
}

// Merge brings the edits of two documents that came from one base together.
//
// Tables are known by their ids, breakpoints by their values, and every field
// of the document and its tables is merged by itself. Each edit of either side
// is in the merged document, or in a conflict, or the same on both sides. On
// axes that neither side moved a merged cell has one side's bits. Where one
// side moved breakpoints, the other side's change is carried as a difference
// surface onto the moved axes: ours + resample(theirs − base).
func Merge(base, ours, theirs *tables.Calibration, opt MergeOptions) (*MergeResult, error) {
	if base.Kind() != ours.Kind() || base.Kind() != theirs.Kind() {
		return nil, fmt.Errorf("the base is %s, ours %s and theirs %s: only documents of one format merge", base.Kind(), ours.Kind(), theirs.Kind())
	}
	m := &merger{base: base, ours: ours, theirs: theirs, opt: opt, r: &MergeResult{}, disputed: map[string]bool{}}
	c := m.document()
	list := m.tables()
	order := m.order(list)
	for _, id := range order {
		c.Tables = append(c.Tables, list[id])
	}
	// Ours stands wherever the sides conflict, so that the document is valid now
	// and after any choice among the conflicts.
	doc, err := tables.NewCalibration(c)
	if err != nil {
		return nil, err
	}
	m.r.Merged = doc
	sortConflicts(m.r.Conflicts)
	if opt.Prefer != "" && len(m.r.Conflicts) > 0 {
		var notes []string
		m.r.Settled = m.r.Conflicts
		if m.r.Merged, m.r.Conflicts, notes, err = Resolve(doc, m.r.Settled, opt.Prefer, Selection{}); err != nil {
			return nil, err
		}
		m.r.Notes = append(m.r.Notes, notes...)
	}
	m.r.SideEffects = append(m.r.SideEffects, sideEffectsOf(ours, theirs, m.r.Merged)...)
	return m.r, nil
}

type merger struct {
	base, ours, theirs *tables.Calibration
	opt                MergeOptions
	r                  *MergeResult
	disputed           map[string]bool // tables that one side took away and the other changed
}

func (m *merger) conflict(c Conflict) {
	c.ID = c.id()
	m.r.Conflicts = append(m.r.Conflicts, c)
}

// document merges the document's own fields.
func (m *merger) document() (c tables.Contents) {
	o, a, b := m.base.Contents(), m.ours.Contents(), m.theirs.Contents()
	m.fields("", documentNames(&o, &a, &b), [3]State{{Contents: &o}, {Contents: &a}, {Contents: &b}}, &State{Contents: &c})
	return c
}

// documentNames names the fields of three documents that merge by themselves:
// where both sides give facts about the engine, each of these is one.
func documentNames(o, a, b *tables.Contents) (names []string) {
	for _, f := range tables.DocumentFields.Of(o, a, b) {
		if f.Name != "engine" || a.Engine == nil || b.Engine == nil {
			names = append(names, f.Name)
			continue
		}
		for _, fact := range tables.EngineFields.Of(cmp.Or(o.Engine, &tables.Engine{}), a.Engine, b.Engine) {
			names = append(names, "engine."+fact.Name)
		}
	}
	return names
}

// fields merges the named fields of a table, or of the document, one by one. Of one
// that conflicts ours stands.
func (m *merger) fields(table string, names []string, of [3]State, to *State) {
	for _, name := range names {
		c := Conflict{Table: table, Name: name}
		f, _ := c.Field()
		v, ok := surface.Three(&of[0], &of[1], &of[2], f.Same)
		f.Take(to, v)
		if ok {
			continue
		}
		for i, side := range []*State{&c.Base, &c.Ours, &c.Theirs} {
			f.Take(side, &of[i])
		}
		m.conflict(c)
	}
}

// tables merges every table, by id; those that the merged document lacks are nil.
func (m *merger) tables() map[string]*tables.Table {
	merged := map[string]*tables.Table{}
	for _, id := range slices.Concat(m.base.IDs(), m.ours.IDs(), m.theirs.IDs()) {
		if _, done := merged[id]; !done {
			merged[id] = m.table(id, m.base.Table(id), m.ours.Table(id), m.theirs.Table(id))
		}
	}
	return merged
}

func (m *merger) table(id string, o, a, b *tables.Table) *tables.Table {
	if t, ok := surface.Three(o, a, b, (*tables.Table).Equal); ok {
		return t
	}
	if o != nil && a != nil && b != nil {
		// Every part is sound by itself and shapes are made to fit. For what nobody
		// thought of the whole table is the conflict.
		if t, err := tables.NewTable(m.both(o, a, b)); err == nil {
			return t
		}
	}
	if a == nil || b == nil {
		m.disputed[id] = true
	}
	m.conflict(Conflict{Table: id, Name: WholeTable, Base: State{Table: o}, Ours: State{Table: a}, Theirs: State{Table: b}})
	return a
}

// both merges a table that all three documents have and both sides changed.
func (m *merger) both(o, a, b *tables.Table) (f tables.Fields) {
	fo, fa, fb := o.Fields(), a.Fields(), b.Fields()
	f.ID = fo.ID
	t := &tableMerge{merger: m, o: o, a: a, b: b, f: &f}
	// A unit and the numbers in it are one thing. Merged one by one, one side's unit
	// would end up beside the other side's numbers.
	apart := t.unitsDiffer()
	var names []string
	for _, g := range tables.TableFields.Of(&fo, &fa, &fb) {
		if !slices.Contains(tables.OnAxes, g.Name) && !(apart && slices.Contains(tables.InUnit, g.Name)) {
			names = append(names, g.Name)
		}
	}
	m.fields(fo.ID, names, [3]State{{Fields: &fo}, {Fields: &fa}, {Fields: &fb}}, &State{Fields: &f})
	if apart {
		if unit.Same(a.Unit(), b.Unit()) {
			t.say("both sides changed the unit to %s, but not certainly both the values with it: check which side converted them", a.Unit())
		}
		t.whole("unit")
		return f
	}
	var ok bool
	if t.resolution, ok = surface.Three(fo.Resolution, fa.Resolution, fb.Resolution, tables.SameBit); !ok {
		t.resolution = fo.Resolution // so that swapping the sides gives the same
	}
	t.values()
	return f
}

// Undo takes a change set, already turned round, out of a document that has
// moved on: a merge in which the document as the change set left it is the
// base, the document as it is one side, and the base with the change set undone
// the other. What was edited since, where the change set had edited too, is a
// conflict. It also counts the edits that the document no longer holds.
//
// An edit whose table or cell is no longer there cannot be undone, and is an
// error.
func Undo(doc *tables.Calibration, undo *ChangeSet) (r *MergeResult, stale int, err error) {
	// Selecting all of it makes the edits of order and of added tables forgiving.
	undo = undo.Select(func(Edit) bool { return true }) // tables may have come and gone since
	// Merge finds what collides; how many edits the document no longer holds, only
	// the guards can say.
	stale = len(newDraft(doc).apply(undo))
	base, err := asExpected(doc, undo)
	if err != nil {
		return nil, 0, err
	}
	before, err := Apply(base, undo)
	if err != nil {
		return nil, 0, err
	}
	r, err = Merge(base, doc, before, MergeOptions{})
	return r, stale, err
}

// asExpected is the document with every place that a change set edits brought
// to the value that it expects to find; what is not there stays so.
func asExpected(doc *tables.Calibration, cs *ChangeSet) (*tables.Calibration, error) {
	d := newDraft(doc)
	d.setFrames(cs)
	for _, e := range cs.Edits {
		e.expect(d)
	}
	return d.finish()
}
