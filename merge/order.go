package merge

import (
	"slices"

	"calsplice/tables"
)

// order is the merged tables in their order. Where one side moved tables its
// order holds; a table that one side added stands behind the one that it
// follows there. Where both moved them differently that is a conflict.
func (m *merger) order(list map[string]*tables.Table) []string {
	merged := map[string]bool{}
	for id := range list {
		merged[id] = !m.disputed[id]
	}
	o, a, b := keepOnly(m.base.IDs(), merged), keepOnly(m.ours.IDs(), merged), keepOnly(m.theirs.IDs(), merged)
	core := set(keepOnly(keepOnly(a, set(b)), set(o)))
	co, ca, cb := keepOnly(o, core), keepOnly(a, core), keepOnly(b, core)
	order, ok := three(co, ca, cb, slices.Equal[[]string])
	if !ok {
		side := func(ids []string) ConflictSide { return ConflictSide{Order: ids} }
		m.conflict(Conflict{Name: TableOrder, Base: side(co), Ours: side(ca), Theirs: side(cb)})
	}
	behindA, behindB := behind(a, core), behind(b, core)
	out := interleave(behindA[""], behindB[""])
	for _, id := range order {
		out = append(out, id)
		out = append(out, interleave(behindA[id], behindB[id])...)
	}
	return m.insertDisputed(unique(out), list)
}

// insertDisputed puts the tables that are there only because of a conflict
// behind those that they follow in ours. Ordering them last keeps the rest in
// the same order whichever side is ours.
func (m *merger) insertDisputed(out []string, list map[string]*tables.Table) []string {
	at := 0
	for _, id := range m.ours.IDs() {
		if i := slices.Index(out, id); i >= 0 {
			at = i + 1
		} else if m.disputed[id] && list[id] != nil {
			out = slices.Insert(out, at, id)
			at++
		}
	}
	return out
}

// behind lists, for each table of the core, those that follow it and are not of
// the core; "" is the front.
func behind(ids []string, core map[string]bool) map[string][]string {
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
	inA, inB := positions(a), positions(b)
	taken := make(map[string]bool, len(a)+len(b))
	out := make([]string, 0, len(a)+len(b))
	for i, j := 0, 0; ; {
		for i < len(a) && taken[a[i]] {
			i++
		}
		for j < len(b) && taken[b[j]] {
			j++
		}
		var next string
		switch {
		case i == len(a) && j == len(b):
			return out
		case i == len(a):
			next = b[j]
		case j == len(b):
			next = a[i]
		default:
			// The smaller goes first, but not before what the other list has in
			// front of it.
			blocked := func(id string) bool {
				p, okA := inA[id]
				q, okB := inB[id]
				return okA && p > i || okB && q > j
			}
			next = min(a[i], b[j])
			if other := max(a[i], b[j]); blocked(next) && !blocked(other) {
				next = other
			}
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

// unique leaves out what already stands: a table that both sides added at
// different places stays at the first.
func unique(ids []string) []string {
	seen := map[string]bool{}
	return slices.DeleteFunc(ids, func(id string) bool {
		was := seen[id]
		seen[id] = true
		return was
	})
}
