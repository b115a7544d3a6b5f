package merge

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"calsplice/merge/surface"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// triple is a base with two descendants, often with edits in common.
func triple(s tabletest.Source) (o, a, b *tables.Calibration) {
	o = genDoc(s)
	if s.N(3) == 0 { // all on one map, its axes mostly
		o = tabletest.Must(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{genMap(s)}}))
		a, b = o, o
		for range s.N(4) {
			a = tabletest.Must(a.WithTable(mutateTable(s, a.Tables()[0])))
		}
		for range s.N(4) {
			b = tabletest.Must(b.WithTable(mutateTable(s, b.Tables()[0])))
		}
		return o, a, b
	}
	a, b = o, o
	if s.N(4) == 0 {
		a = mutate(s, a, 3)
		b = a
	}
	a, b = mutate(s, a, 4), mutate(s, b, 4)
	return o, a, b
}

func merged(f tabletest.Failer, o, a, b *tables.Calibration) *MergeResult {
	f.Helper()
	r, err := Merge(o, a, b, MergeOptions{})
	if err != nil {
		f.Fatalf("merge: %v\n%s%s%s", err, spell(o), spell(a), spell(b))
	}
	return r
}

func say3(o, a, b *tables.Calibration, r *MergeResult) string {
	s := "base\n" + spell(o) + "ours\n" + spell(a) + "theirs\n" + spell(b) + "merged\n" + spell(r.Merged)
	for _, c := range r.Conflicts {
		s += fmt.Sprintf("conflict %s %s in %q at %s %s\n", c.Table, c.At(), c.In, coordinate(c.X), coordinate(c.Y))
	}
	return s
}

// Law 2: merging with what did not change, or with the same change, is nothing
// new.
func lawMergeIdentities(f tabletest.Failer, s tabletest.Source) {
	o, a, _ := triple(s)
	for _, c := range []struct {
		name       string
		ours, them *tables.Calibration
		want       *tables.Calibration
	}{{"merge(O, A, O)", a, o, a}, {"merge(O, O, A)", o, a, a}, {"merge(O, A, A)", a, a, a}} {
		r := merged(f, o, c.ours, c.them)
		if !r.Merged.Equal(c.want) || len(r.Conflicts) > 0 {
			f.Fatalf("%s is not A\n%s", c.name, say3(o, c.ours, c.them, r))
		}
	}
}

// Law 2: swapping the sides swaps conflicts and nothing else.
func lawSwap(f tabletest.Failer, s tabletest.Source) {
	o, a, b := triple(s)
	r, q := merged(f, o, a, b), merged(f, o, b, a)
	if len(r.Conflicts) != len(q.Conflicts) {
		f.Fatalf("%d conflicts, swapped %d\n%sswapped\n%s", len(r.Conflicts), len(q.Conflicts), say3(o, a, b, r), say3(o, b, a, q))
	}
	for i, c := range r.Conflicts {
		d := q.Conflicts[i]
		if c.ID != d.ID || !sameSide(c.Ours, d.Theirs) || !sameSide(c.Theirs, d.Ours) || !sameSide(c.Base, d.Base) {
			f.Fatalf("conflict %s %s is not swapped\n%s", c.Table, c.At(), say3(o, a, b, r))
		}
	}
	if len(r.Conflicts) == 0 && !r.Merged.Equal(q.Merged) {
		f.Fatalf("without conflicts the merged documents differ\n%sswapped\n%s", say3(o, a, b, r), spell(q.Merged))
	}
	// Where there are conflicts, what no conflict is about is the same.
	for _, t := range r.Merged.Tables() {
		u := q.Merged.Table(t.ID())
		if u == nil || t.Equal(u) {
			continue
		}
		if !slices.ContainsFunc(r.Conflicts, func(c Conflict) bool { return c.Table == t.ID() }) {
			f.Fatalf("table %s differs without a conflict\n%sswapped\n%s", t.ID(), say3(o, a, b, r), spell(q.Merged))
		}
		sameButConflicts(f, r, t, u, func() string { return say3(o, a, b, r) + "swapped\n" + spell(q.Merged) })
	}
}

// Law 2 holds through resolving: the same choices give the same document,
// whichever side was ours, at once or one by one.
func lawSwapResolved(f tabletest.Failer, s tabletest.Source) {
	o, a, b := triple(s)
	r, q := merged(f, o, a, b), merged(f, o, b, a)
	choice := map[string]Side{}
	mirror := map[Side]Side{Ours: Theirs, Theirs: Ours}
	same := tabletest.Pick(s, []Side{Ours, Theirs, ""})
	for _, c := range r.Conflicts {
		if choice[c.ID] = same; same == "" {
			choice[c.ID] = tabletest.Pick(s, []Side{Ours, Theirs})
		}
	}
	one, _, _, err := ResolveEach(r.Merged, r.Conflicts, func(c Conflict) Side { return choice[c.ID] })
	two, _, _, err2 := ResolveEach(q.Merged, q.Conflicts, func(c Conflict) Side { return mirror[choice[c.ID]] })
	if (err == nil) != (err2 == nil) {
		f.Fatalf("resolving: %v, swapped: %v\n%s%v", err, err2, say3(o, a, b, r), choice)
	}
	if err != nil {
		return
	}
	var putBack []*tables.Table
	for _, c := range r.Conflicts {
		side := c.Side(choice[c.ID])
		if c.lines() == nil || side.Absent {
			continue
		}
		for _, doc := range []*tables.Calibration{one, two} {
			if t := doc.Table(c.Table); !holdsAt(t, atOf(c), side.Value) {
				f.Fatalf("the cell chosen for %s %s is gone\n%s%v\nresolved\n%s", c.Table, c.At(), say3(o, a, b, r), choice, spell(doc))
			}
		}
		putBack = append(putBack, o.Table(c.Table))
	}
	// With a breakpoint that is put back come cells of the merged surface; a
	// breakpoint that was never taken away has its own.
	for _, t := range putBack {
		one, two = tabletest.Must(one.WithTable(t)), tabletest.Must(two.WithTable(t))
	}
	if !one.Equal(two) {
		f.Fatalf("resolved otherwise after a swap\n%s%v\nresolved\n%sswapped\n%s", say3(o, a, b, r), choice, spell(one), spell(two)) // promise: conflicts stand until they are settled
	}
}

func holdsAt(t *tables.Table, at [2]float64, v float64) bool {
	g := grid{keyAxes(t.X())[0], keyAxes(t.Y())[0], t.Values()}
	got, ok := g.at(at[0], at[1])
	return ok && tables.SameBit(got, v)
}

func sameSide(c, d State) bool {
	return c.Absent == d.Absent && tables.SameBit(c.Value, d.Value) && c.Table.Equal(d.Table) && slices.Equal(c.Order, d.Order)
}

// sameButConflicts compares the cells of two merges of one table that no
// conflict is about.
func sameButConflicts(f tabletest.Failer, r *MergeResult, t, u *tables.Table, say func() string) {
	at := map[[2]float64]bool{}
	goneX, goneY := map[float64]bool{}, map[float64]bool{}
	for _, c := range r.Conflicts {
		if c.Table != t.ID() {
			continue
		}
		if !c.Cell() {
			if c.Name == "x" || c.Name == "y" || c.Name == "unit" || c.Name == WholeTable {
				return
			}
			continue
		}
		p := atOf(c)
		at[p] = true
		if c.Ours.Absent != c.Theirs.Absent {
			goneX[p[0]], goneY[p[1]] = true, true
		}
	}
	x, y := keyAxes(t.X(), u.X()), keyAxes(t.Y(), u.Y())
	g, h := grid{x[0], y[0], t.Values()}, grid{x[1], y[1], u.Values()}
	for _, v := range y[0] {
		for _, w := range x[0] {
			p, okp := g.at(w, v)
			q, okq := h.at(w, v)
			if okp && okq && !at[[2]float64{w, v}] && !tables.SameBit(p, q) && !goneX[w] && !goneY[v] {
				f.Fatalf("table %s at %v, %v: %v and swapped %v\n%s", t.ID(), w, v, p, q, say())
			}
		}
	}
}

func atOf(c Conflict) [2]float64 { return at(c) }

// Law 3: no edit vanishes. The oracle knows nothing of how merging works: it
// looks for each edit of each side in what came out.
func lawNoEditVanishes(f tabletest.Failer, s tabletest.Source) {
	o, a, b := triple(s)
	r := merged(f, o, a, b)
	for _, side := range []struct{ mine, other *tables.Calibration }{{a, b}, {b, a}} {
		if s := vanished(o, side.mine, side.other, r); s != "" {
			f.Fatalf("%s\n%s", s, say3(o, a, b, r))
		}
	}
}

func vanished(o, mine, other *tables.Calibration, r *MergeResult) string {
	conflicted := func(table string, names ...string) bool {
		return slices.ContainsFunc(r.Conflicts, func(c Conflict) bool { return c.Table == table && !c.Cell() && slices.Contains(names, c.Name) })
	}
	co, cm, cr := o.Contents(), mine.Contents(), r.Merged.Contents()
	names := tables.DocumentFields.Names()
	for _, name := range tables.EngineFields.Names() {
		names = append(names, "engine."+name)
	}
	for _, name := range append(names, "x-a", "x-b") {
		g, ok := tables.DocumentFields.Find(name)
		if name != "engine" && (!ok || !g.Same(&co, &cm) && !g.Same(&cm, &cr) && !conflicted("", name, "engine")) {
			return "the edit of " + name + " vanished"
		}
	}
	for _, t := range o.Tables() {
		if mine.Table(t.ID()) == nil && r.Merged.Table(t.ID()) != nil && !conflicted(t.ID(), WholeTable) {
			return "the removal of " + t.ID() + " vanished"
		}
	}
	for _, t := range mine.Tables() {
		id := t.ID()
		base := o.Table(id)
		if base != nil && base.Equal(t) || conflicted(id, WholeTable) {
			continue
		}
		m := r.Merged.Table(id)
		if m == nil {
			return "table " + id + " vanished"
		}
		if base == nil {
			if !m.Equal(t) {
				return "the added table " + id + " is not as it was added"
			}
			continue
		}
		fo, fm, fr := base.Fields(), t.Fields(), m.Fields()
		for _, g := range tables.TableFields.Of(&fo, &fm) {
			if !slices.Contains(tables.OnAxes, g.Name) && !g.Same(&fo, &fm) && !g.Same(&fm, &fr) && !conflicted(id, g.Name, "unit") {
				return id + ": the edit of " + g.Name + " vanished"
			}
		}
		if !conflicted(id, "x", "y", "unit") {
			if s := vanishedCells(base, t, other.Table(id), m, r); s != "" {
				return id + ": " + s
			}
		}
	}
	return ""
}

func vanishedCells(o, mine, other, m *tables.Table, r *MergeResult) string {
	x, y := keyAxes(o.X(), mine.X(), other.X(), m.X()), keyAxes(o.Y(), mine.Y(), other.Y(), m.Y())
	go_, gm, gt, gr := grid{x[0], y[0], o.Values()}, grid{x[1], y[1], mine.Values()}, grid{x[2], y[2], other.Values()}, grid{x[3], y[3], m.Values()}
	inConflict := func(x, y float64) bool {
		return slices.ContainsFunc(r.Conflicts, func(c Conflict) bool { return c.Table == o.ID() && c.Cell() && atOf(c) == [2]float64{x, y} })
	}
	anyConflict := slices.ContainsFunc(r.Conflicts, func(c Conflict) bool { return c.Table == o.ID() && c.Cell() })
	if o.X() != nil && mine.X() != nil && m.X() != nil && !surface.SameBreakpoints(o.X(), m.X()) {
		for _, p := range o.X().Points() {
			if mine.X().Find(p) < 0 && m.X().Find(p) >= 0 && !anyConflict {
				return fmt.Sprintf("the removal of x %v vanished", p)
			}
		}
	}
	for _, v := range gm.y {
		for _, w := range gm.x {
			is, _ := gm.at(w, v)
			was, inO := go_.at(w, v)
			if inO && tables.SameBit(is, was) || inConflict(w, v) {
				continue
			}
			got, inM := gr.at(w, v)
			there, inOther := gt.at(w, v)
			if inM {
				if tables.SameBit(got, is) || !inOther && r.Carried > 0 {
					continue
				}
				return fmt.Sprintf("the value %v at %v, %v became %v", is, w, v, got)
			}
			// Its breakpoint is gone. Some node that the other side has shows it.
			_ = there
			if !inO && math.Abs(is) >= 0 {
				continue // a new cell on a line that the other side took away whole
			}
			if !shownNearby(gm, gt, gr) {
				return fmt.Sprintf("the value %v at %v, %v is nowhere", is, w, v)
			}
		}
	}
	return ""
}

// shownNearby reports whether any merged node that the other side has, and this
// one has not, is another value there.
func shownNearby(mine, other, merged grid) bool {
	for i, got := range merged.values {
		x, y := merged.x[i%len(merged.x)], merged.y[i/len(merged.x)]
		_, inMine := mine.at(x, y)
		if v, ok := other.at(x, y); !inMine && (!ok || !tables.SameBit(v, got)) {
			return true
		}
	}
	return false
}

// Edits that do not touch merge into both, without a conflict.
func lawDisjoint(f tabletest.Failer, s tabletest.Source) {
	o := genDoc(s)
	var ta, tb []*tables.Table
	for _, t := range o.Tables() {
		fa, fb := t.Fields(), t.Fields()
		fa.Values, fb.Values = slices.Clone(fa.Values), slices.Clone(fb.Values)
		for i := range fa.Values {
			switch s.N(4) {
			case 0:
				fa.Values[i] = tabletest.Pick(s, tabletest.Near)
			case 1:
				fb.Values[i] = tabletest.Pick(s, tabletest.Near)
			}
		}
		if s.N(3) == 0 {
			fa.Title = "A"
		}
		if s.N(3) == 0 {
			fb.Notes = "B"
		}
		ta, tb = append(ta, tabletest.Must(tables.NewTable(fa))), append(tb, tabletest.Must(tables.NewTable(fb)))
	}
	ca, cb := o.Contents(), o.Contents()
	ca.Tables, cb.Tables = ta, tb
	cb.Notes = "B's"
	a, b := tabletest.Must(tables.NewCalibration(ca)), tabletest.Must(tables.NewCalibration(cb))
	r := merged(f, o, a, b)
	if len(r.Conflicts) > 0 {
		f.Fatalf("edits that don't touch conflict\n%s", say3(o, a, b, r))
	}
	both, err := applied(a, Diff(o, b))
	if err != nil {
		return // a guard's tolerance saw a neighbour's edit as its own: apply is stricter than merge
	}
	if !r.Merged.Equal(both) {
		f.Fatalf("merged is not both\n%s", say3(o, a, b, r))
	}
}

// On the same axes every merged cell has one side's bits.
func lawNoDrift(f tabletest.Failer, s tabletest.Source) {
	o, a, b := triple(s)
	r := merged(f, o, a, b)
	for _, m := range r.Merged.Tables() {
		ta, tb := a.Table(m.ID()), b.Table(m.ID())
		if ta == nil || tb == nil || !surface.SameBreakpoints(ta.X(), tb.X()) || !surface.SameBreakpoints(ta.Y(), tb.Y()) ||
			len(m.Values()) != len(ta.Values()) || len(m.Values()) != len(tb.Values()) {
			continue
		}
		for i, v := range m.Values() {
			if !tables.SameBit(v, ta.Values()[i]) && !tables.SameBit(v, tb.Values()[i]) {
				f.Fatalf("%s %s is %v, neither side's\n%s", m.ID(), m.Place(i), v, say3(o, a, b, r))
			}
		}
	}
	again := merged(f, o, a, b)
	if !again.Merged.Equal(r.Merged) || fmt.Sprint(again.Notes, again.SideEffects) != fmt.Sprint(r.Notes, r.SideEffects) {
		f.Fatalf("the same input gave another result\n%s", say3(o, a, b, r))
	}
}

// Resolving every conflict for one side leaves none, and is the same in two
// steps as in one.
func lawResolve(f tabletest.Failer, s tabletest.Source) {
	o, a, b := triple(s)
	r := merged(f, o, a, b)
	ours, left, _, err := Resolve(r.Merged, r.Conflicts, Ours, Selection{})
	if err != nil || len(left) > 0 || !ours.Equal(r.Merged) {
		f.Fatalf("resolving for ours: %v, %d left\n%sresolved\n%s", err, len(left), say3(o, a, b, r), spellAny(ours))
	}
	theirs, left, _, err := Resolve(r.Merged, r.Conflicts, Theirs, Selection{})
	if err != nil || len(left) > 0 {
		f.Fatalf("resolving for theirs: %v, %d left\n%s", err, len(left), say3(o, a, b, r))
	}
	for _, c := range r.Conflicts {
		if t := theirs.Table(c.Table); c.Cell() && !c.Theirs.Absent {
			x, y := keyAxes(t.X()), keyAxes(t.Y())
			if v, ok := (&grid{x[0], y[0], t.Values()}).at(at(c)[0], at(c)[1]); ok && !tables.SameBit(v, c.Theirs.Value) {
				f.Fatalf("%s %s resolved for theirs is %v\n%s", c.Table, c.At(), v, say3(o, a, b, r))
			}
		}
	}
	if len(r.Conflicts) < 2 {
		return
	}
	only := Selection{Tables: []string{r.Conflicts[0].Table}}
	if only.Tables[0] == "" {
		return
	}
	half, left, _, err := Resolve(r.Merged, r.Conflicts, Theirs, only)
	if err != nil {
		f.Fatalf("resolving a part: %v\n%s", err, say3(o, a, b, r))
	}
	whole, left, _, err := Resolve(half, left, Theirs, Selection{})
	if err != nil || len(left) > 0 {
		f.Fatalf("resolving the rest: %v\n%s", err, say3(o, a, b, r))
	}
	for _, t := range whole.Tables() {
		if u := theirs.Table(t.ID()); u != nil && !u.Equal(t) {
			f.Fatalf("resolved in two parts %s differs\n%s%s", t.ID(), spell(whole), spell(theirs))
		}
	}
}

// Whatever order conflicts are settled in, and however often, the document is
// never taken for another; where a cell holds none of a conflict's values it is.
func lawResolveGuard(f tabletest.Failer, s tabletest.Source) {
	o, a, b := triple(s)
	r := merged(f, o, a, b)
	doc, left := r.Merged, r.Conflicts
	var m *MismatchError
	for len(left) > 0 {
		id := left[s.N(len(left))].ID
		next, rest, _, err := ResolveEach(doc, left, func(c Conflict) Side {
			if c.ID == id {
				return tabletest.Pick(s, []Side{Ours, Theirs})
			}
			return ""
		})
		if errors.As(err, &m) {
			f.Fatalf("settling one by one: %v\n%s%s", err, say3(o, a, b, r), spell(doc))
		}
		if err != nil {
			break
		}
		doc, left = next, rest
		if _, _, _, err := Resolve(doc, r.Conflicts, Theirs, Selection{}); errors.As(err, &m) {
			f.Fatalf("settling again: %v\n%s%s", err, say3(o, a, b, r), spell(doc))
		}
	}
	for _, c := range r.Conflicts {
		if !c.Cell() || c.Ours.Absent || c.Theirs.Absent {
			continue // with a breakpoint put back come cells between their neighbours
		}
		t := r.Merged.Table(c.Table)
		values := slices.Clone(t.Values())
		values[c.Row*t.Columns()+c.Column] = 12345
		with := r.Merged.Contents()
		with.Tables = slices.Clone(with.Tables)
		with.Tables[slices.Index(r.Merged.IDs(), c.Table)] = tabletest.Must(t.WithValues(values))
		_, _, _, err := Resolve(tabletest.Must(tables.NewCalibration(with)), r.Conflicts, Theirs, Selection{})
		if !errors.As(err, &m) || len(m.Mismatches) != 1 || m.Mismatches[0].Found != "12345" {
			f.Fatalf("%s %s holds 12345: %v\n%s", c.Table, c.At(), err, say3(o, a, b, r))
		}
	}
}

// Undone by merge, a change set that nobody touched since is gone, and what
// was edited since elsewhere is not.
func lawUndo(f tabletest.Failer, s tabletest.Source) {
	a := genDoc(s)
	b := mutate(s, a, 5)
	undo := Diff(a, b).Reverse()
	r, stale, err := Undo(b, undo)
	if err != nil || stale != 0 || len(r.Conflicts) > 0 || !r.Merged.Equal(a) {
		f.Fatalf("undone at once: %v, %d stale\n%s%s", err, stale, spell(a), spell(b))
	}
	c := cellEdits(s, b)
	r, _, err = Undo(c, undo)
	if err != nil {
		f.Fatalf("undone later: %v\n%s%s%s", err, spell(a), spell(b), spell(c))
	}
	for _, e := range undo.Edits {
		if s, ok := e.(*FieldEdit); ok && slices.ContainsFunc([]string{"x", "y", "unit"}, func(n string) bool { return slices.Contains(s.Names, n) }) {
			return // it knows nothing of later values, and leaves them as they are
		}
	}
	want := merged(f, b, c, a)
	if !r.Merged.Equal(want.Merged) || len(r.Conflicts) != len(want.Conflicts) {
		f.Fatalf("undone later is not the merge\n%swant\n%s", say3(b, c, a, r), spell(want.Merged))
	}
}

func spellAny(doc *tables.Calibration) string {
	if doc == nil {
		return "nothing"
	}
	return spell(doc)
}

func TestMergeIdentitiesLaw(t *testing.T) { tabletest.Always(t, 5_000, lawMergeIdentities) }
func TestSwapLaw(t *testing.T)            { tabletest.Always(t, 10_000, lawSwap) }
func TestSwapResolvedLaw(t *testing.T)    { tabletest.Always(t, 10_000, lawSwapResolved) }
func TestNoEditVanishesLaw(t *testing.T)  { tabletest.Always(t, 10_000, lawNoEditVanishes) }
func TestDisjointLaw(t *testing.T)        { tabletest.Always(t, 3_000, lawDisjoint) }
func TestNoDriftLaw(t *testing.T)         { tabletest.Always(t, 3_000, lawNoDrift) }
func TestResolveLaw(t *testing.T)         { tabletest.Always(t, 4_000, lawResolve) }
func TestResolveGuardLaw(t *testing.T)    { tabletest.Always(t, 4_000, lawResolveGuard) }

func TestUndoLaw(t *testing.T) { tabletest.Always(t, 3_000, lawUndo) }

func FuzzMergeIdentities(f *testing.F) { fuzz(f, lawMergeIdentities) }
func FuzzSwap(f *testing.F)            { fuzz(f, lawSwap) }
func FuzzSwapResolved(f *testing.F)    { fuzz(f, lawSwapResolved) }
func FuzzNoEditVanishes(f *testing.F)  { fuzz(f, lawNoEditVanishes) }
func FuzzDisjoint(f *testing.F)        { fuzz(f, lawDisjoint) }
func FuzzNoDrift(f *testing.F)         { fuzz(f, lawNoDrift) }
func FuzzUndo(f *testing.F)            { fuzz(f, lawUndo) }
func FuzzResolve(f *testing.F)         { fuzz(f, lawResolve) }
func FuzzResolveGuard(f *testing.F)    { fuzz(f, lawResolveGuard) }
