package merge

import (
	"errors"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"

	"pgregory.net/rapid"
)

// Law 1: a difference applied gives the other document, reversed gives the
// first back, and applied twice is refused as already applied.
func lawDiff(f tabletest.Failer, s tabletest.Source) {
	a := genDoc(s)
	b := mutate(s, a, 6)
	if s.N(8) == 0 {
		b = genDoc(s)
	}
	cs := Diff(a, b)
	wantApplied(f, a, cs, b)
	wantApplied(f, b, cs.Reverse(), a)
	wantApplied(f, a, cs.Reverse().Reverse(), b)
	if n := len(Diff(a, a).Edits); n != 0 {
		f.Fatalf("diff of a document with itself has %d edits", n)
	}
	if len(cs.Edits) == 0 {
		if !a.Equal(b) {
			f.Fatalf("no edits between\n%s%s", spell(a), spell(b))
		}
		return
	}
	_, err := applied(b, cs)
	var m *MismatchError
	if !errors.As(err, &m) || !m.Already {
		f.Fatalf("applying twice gave %v\n%s%s", err, spell(a), spell(b))
	}
}

// applied applies a change set, beyond limits too: generated documents keep none.
func applied(doc *tables.Calibration, cs *ChangeSet) (*tables.Calibration, error) {
	a, err := ApplyWith(doc, cs, ApplyOptions{BeyondLimits: true})
	if err != nil {
		return nil, err
	}
	return a.Document, nil
}

func wantApplied(f tabletest.Failer, doc *tables.Calibration, cs *ChangeSet, want *tables.Calibration) {
	f.Helper()
	got, err := applied(doc, cs)
	if err != nil {
		f.Fatalf("apply: %v\n%swanted\n%s", err, spell(doc), spell(want))
	}
	if !got.Equal(want) {
		f.Fatalf("applied to\n%sgot\n%swanted\n%s", spell(doc), spell(got), spell(want)) // promise: all or nothing
	}
}

// A part of a change set applied first and the rest later is the whole.
func lawParts(f tabletest.Failer, s tabletest.Source) {
	a := genDoc(s)
	b := mutate(s, a, 8)
	cs := Diff(a, b)
	if s.N(2) == 0 {
		a, b, cs = b, a, cs.Reverse()
	}
	first := map[int]bool{}
	for i := range cs.Edits {
		first[i] = s.N(2) == 0
	}
	i := -1
	part := cs.Select(func(Edit) bool { i++; return first[i] })
	i = -1
	rest := cs.Select(func(Edit) bool { i++; return !first[i] })
	half, err := applied(a, part)
	if err != nil {
		f.Fatalf("the first part: %v\n%s%s", err, spell(a), spell(b))
	}
	whole, err := applied(half, rest)
	if err != nil {
		f.Fatalf("the rest: %v\n%s%s", err, spell(half), spell(b))
	}
	if !whole.Equal(b) {
		f.Fatalf("in two parts\n%sgot\n%shalf\n%swanted\n%s", spell(a), spell(whole), spell(half), spell(b))
	}
}

func TestDiffLaw(t *testing.T)  { tabletest.Always(t, 10_000, lawDiff) }
func TestPartsLaw(t *testing.T) { tabletest.Always(t, 3_000, lawParts) }

func fuzz(f *testing.F, law func(tabletest.Failer, tabletest.Source)) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) { law(t, tabletest.Rapid(t)) }))
}

func FuzzDiff(f *testing.F)  { fuzz(f, lawDiff) }
func FuzzParts(f *testing.F) { fuzz(f, lawParts) }
