package merge

import (
	"slices"

	"calsplice/merge/surface"
	"calsplice/tables"
)

// order is the merged tables in their order. Where one side moved tables its
// order holds; a table that one side added stands behind the one that it
// follows there. Where both moved them differently that is a conflict.
//
// A table that one side took away and the other changed has its place in the
// order, whether it is there or not, and its conflict names that place: so
// resolving gives the same order whichever side is ours.
func (m *merger) order(list map[string]*tables.Table) []string {
	all := map[string]bool{}
	for id, t := range list {
		all[id] = t != nil || m.disputed[id]
	}
	o, a, b := keepOnly(m.base.IDs(), all), keepOnly(m.ours.IDs(), all), keepOnly(m.theirs.IDs(), all)
	// Only tables that all three have can have been moved by a side; all others are
	// put where they follow something.
	core := set(keepOnly(keepOnly(a, set(b)), set(o)))
	co, ca, cb := keepOnly(o, core), keepOnly(a, core), keepOnly(b, core)
	order, ok := surface.Three(co, ca, cb, slices.Equal[[]string])
	if !ok {
		side := func(ids []string) State { return State{Order: ids} }
		m.conflict(Conflict{Name: TableOrder, Base: side(co), Ours: side(ca), Theirs: side(cb)})
	}
	out := interleave(reorder(a, order), reorder(b, order))
	for i, c := range m.r.Conflicts {
		if m.disputed[c.Table] && c.Name == WholeTable {
			m.r.Conflicts[i].After = m.before(out, c.Table)
		}
	}
	return slices.DeleteFunc(out, func(id string) bool { return list[id] == nil })
}

// before lists the tables before one, the nearest first, down to one that is
// not disputed.
func (m *merger) before(order []string, id string) []string {
	i := slices.Index(order, id)
	list := slices.Clone(order[:i])
	slices.Reverse(list)
	if n := slices.IndexFunc(list, func(id string) bool { return !m.disputed[id] }); n >= 0 {
		list = list[:n+1]
	}
	return list
}

// followers lists, for each table of the core, those that follow it and are not
// of the core; "" is the front.
func followers(ids []string, core map[string]bool) map[string][]string {
	out := map[string][]string{}
	last := ""
	for _, id := range ids {
		if core[id] {
			last = id
		} else {
			out[last] = append(out[last], id)
		}
	}
	return out
}

// interleave merges two lists into one that keeps the order of both wherever
// they agree, the same whichever comes first.
func interleave(a, b []string) []string {
	// Each list is walked once, with a look at where the other has the same id, since
	// a document may bring a hundred thousand tables.
	inA, inB := positions(a), positions(b)
	taken := make(map[string]bool, len(a)+len(b))
	out := make([]string, 0, len(a)+len(b))
	i, j := 0, 0
	head := func(list []string, at *int) string {
		for *at < len(list) && taken[list[*at]] {
			*at++
		}
		if *at == len(list) {
			return ""
		}
		return list[*at]
	}
	blocked := func(id string) bool { return inA[id] > i || inB[id] > j }
	for {
		x, y := head(a, &i), head(b, &j)
		// The smaller goes first, but not before what the other list has in front of it.
		next, other := min(x, y), max(x, y)
		switch {
		case other == "":
			return out
		case next == "" || blocked(next) && !blocked(other):
			next = other
		}
		taken[next] = true
		out = append(out, next)
	}
}

func positions(ids []string) map[string]int {
	m := make(map[string]int, len(ids))
	for i, id := range ids {
		m[id] = i
	}
	return m
}
