package merge

import (
	"math"
	"math/big"
	"slices"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// Law 4: a cell that differs by more than the tolerance is always listed, a
// wider tolerance never lists more, and what one hides is counted.
func lawTolerance(f tabletest.Failer, s tabletest.Source) {
	a := genDoc(s)
	b := mutate(s, a, 6)
	tols := []float64{0, 0.005, 0.05, 0.5, 40}
	i := s.N(len(tols))
	narrow, wide := tols[i], tols[i+s.N(len(tols)-i)]
	kind := func(v float64) Tolerance {
		if i%2 == 0 {
			return Tolerance{Abs: []Bound{{"", v}}}
		}
		return Tolerance{Rel: []Bound{{"", v / 10}}}
	}
	r, q := Compare(a, b, kind(narrow), Selection{}), Compare(a, b, kind(wide), Selection{})
	listed := map[CellChange]bool{}
	for _, c := range r.Cells {
		c.OldAt = nil
		listed[c] = true
	}
	for _, c := range q.Cells {
		if c.OldAt = nil; !listed[c] {
			f.Fatalf("%v lists %v, which %v does not\n%s%s", wide, c, narrow, spell(a), spell(b))
		}
	}
	differ := 0
	for _, t := range a.Tables() {
		u := b.Table(t.ID())
		if u == nil || !t.X().Equal(u.X()) || !t.Y().Equal(u.Y()) || t.Unit() != u.Unit() {
			return
		}
		for k, v := range t.Values() {
			w := u.Values()[k]
			cell := CellChange{Table: t.ID(), At: [2]int{k / t.Columns(), k % t.Columns()}, From: tables.Number(v), To: tables.Number(w)}
			if tables.SameBit(v, w) {
				continue
			}
			differ++
			if tol := boundOf(kind(narrow), v, w); (narrow == 0 || exceeds(v, w, tol)) && !listed[cell] {
				f.Fatalf("%v is not listed at %v\n%s%s", cell, narrow, spell(a), spell(b))
			}
		}
	}
	if differ != len(r.Cells)+r.Hidden {
		f.Fatalf("%d cells differ; %d listed and %d hidden\n%s%s", differ, len(r.Cells), r.Hidden, spell(a), spell(b)) // promise: never silent
	}
	differs, hidden := Differs(a, b, kind(narrow), Selection{})
	if differs == r.Same || hidden != r.Hidden {
		f.Fatalf("the short answer is %v, %d; the long one %v, %d\n%s%s", differs, hidden, !r.Same, r.Hidden, spell(a), spell(b))
	}
}

func boundOf(t Tolerance, v, w float64) float64 {
	if len(t.Abs) > 0 {
		return t.Abs[0].Value
	}
	return t.Rel[0].Value * max(math.Abs(v), math.Abs(w))
}

// exceeds compares the decimals that a document shows, exactly.
func exceeds(v, w, tol float64) bool {
	d := new(big.Rat).Sub(decimal(v), decimal(w))
	return d.Abs(d).Cmp(decimal(tol)) > 0
}

// Texts told apart word by word read as both texts.
func lawWords(f tabletest.Failer, s tabletest.Source) {
	text := func() string {
		var b []byte
		for range s.N(12) {
			b = append(b, tabletest.Pick(s, []string{"map", " ", "flow", "\n", "é", ",", "12", "日本", "  "})...)
		}
		return string(b)
	}
	x, y := text(), text()
	var a, b string
	for _, w := range words(x, y) {
		if w.Op != "add" {
			a += w.Text
		}
		if w.Op != "remove" {
			b += w.Text
		}
	}
	if a != x || b != y {
		f.Fatalf("%q and %q read as %q and %q", x, y, a, b)
	}
}

func TestToleranceLaw(t *testing.T) { tabletest.Always(t, 5_000, lawTolerance) }
func TestWordsLaw(t *testing.T)     { tabletest.Always(t, 1_000, lawWords) }

func FuzzTolerance(f *testing.F) { fuzz(f, lawTolerance) }
func FuzzWords(f *testing.F)     { fuzz(f, lawWords) }

func TestBoundsOfTables(t *testing.T) {
	tol := Tolerance{Abs: []Bound{{"", 1}, {"spark.*", 2}, {"", 3}}, Rel: []Bound{{"ve", 0.01}}}
	for _, c := range []struct {
		table, want, why string
	}{
		{"spark.advance", "2", "a table's own bound goes before the general one, wherever it stands"},
		{"flow", "3", "of two general bounds the last counts"},
		{"ve", "3 or 1 %, the larger", "both kinds"},
	} {
		if got := tol.of(c.table, 0.25).String(); got != c.want {
			t.Errorf("%s: %s, want %s: %s", c.table, got, c.want, c.why)
		}
	}
	if got := (Tolerance{}).of("flow", 0.25).String(); got != "0.25, half the resolution" {
		t.Error(got)
	}
	for _, bad := range []string{"", "-1", "=1", "x=", "[=1", "1e999", "NaN"} {
		if _, err := ParseBound(bad); err == nil {
			t.Errorf("%q is taken for a tolerance", bad)
		}
	}
	if half := (Tolerance{}).of("t", 0.05); half.hides(1.1, 1.15) || !half.hides(1.1, 1.149) {
		t.Error("nearer than half the resolution is the same, half of it is not")
	}
	if told := (Tolerance{Abs: []Bound{{"", 0.1}}}).of("t", 0); !told.hides(1, 1.1) || told.hides(1, 1.1000001) {
		t.Error("decimals exactly as far apart as told are hidden, further are not")
	}
	if !slices.Equal([]bool{true, false}, []bool{(Tolerance{}).of("t", 0).hides(0, 0), (Tolerance{}).of("t", 0).hides(0, math.Copysign(0, -1))}) {
		t.Error("without a tolerance −0 is not 0")
	}
}
