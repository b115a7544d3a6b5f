package merge

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"

	"pgregory.net/rapid"
)

// source is where a generator gets its choices: rapid for what shrinks and
// fuzzes, a plain random source where ten thousand documents are wanted.
type source interface{ n(k int) int } // 0 … k−1

type rapidSource struct{ t *rapid.T }

func (s rapidSource) n(k int) int { return rapid.IntRange(0, k-1).Draw(s.t, "n") }

type randSource struct{ r *rand.Rand }

func (s randSource) n(k int) int { return s.r.IntN(k) }

func newRand(seed uint64) source { return randSource{rand.New(rand.NewPCG(seed, 1))} }

// pool has neighbours nearer than half of each resolution beside far ones, both
// zeros, and numbers at the ends of what a double holds.
var pool = []float64{0, math.Copysign(0, -1), 1, 1.04, 1.05, 1.06, 1.5, 2, -1.5, 40, 40.4, 40.6, 1e-300, -1e-300, 1e15, 1e300, 0.1, 0.3, 7, 7.0000000001}

var resolutions = []float64{0, 0, 0.01, 0.1, 1, 0.5}

var points = []float64{-4, 0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 20.5}

var ids = []string{"a", "b", "c", "d", "spark.advance"}

func pick[T any](s source, from []T) T { return from[s.n(len(from))] }

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func genAxis(s source, most int) *tables.Axis {
	start := s.n(len(points))
	var p []float64
	for i := start; i < len(points) && len(p) < most; i++ {
		if s.n(3) > 0 || len(p) == 0 {
			p = append(p, points[i])
		}
	}
	return must(tables.NewAxis(pick(s, []string{"engine speed", "load", "battery voltage"}), pick(s, []string{"r/min", "kPa", "V"}), p))
}

func genTable(s source, id string) *tables.Table {
	f := tables.Fields{ID: id, Unit: pick(s, []string{"ms", "deg", "%"}), Resolution: pick(s, resolutions)}
	if k := s.n(5); k > 0 {
		f.X = genAxis(s, 5)
		if k > 2 {
			f.Y = genAxis(s, 4)
		}
	}
	f.Values = make([]float64, rows(&f)*columns(&f))
	flat := s.n(3) == 0
	first := pick(s, pool)
	for i := range f.Values {
		f.Values[i] = first
		if !flat {
			f.Values[i] = pick(s, pool)
		}
	}
	return must(tables.NewTable(f))
}

func genMap(s source) *tables.Table {
	for {
		if t := genTable(s, "a"); t.Rows()*t.Columns() > 4 {
			return t
		}
	}
}

func genDoc(s source) *tables.Calibration {
	c := tables.Contents{Name: pick(s, []string{"", "van", "boat"})}
	for _, id := range ids {
		if s.n(2) == 0 {
			c.Tables = append(c.Tables, genTable(s, id))
		}
	}
	shuffle(s, c.Tables)
	return must(tables.NewCalibration(c))
}

func shuffle[T any](s source, list []T) {
	for i := len(list) - 1; i > 0; i-- {
		j := s.n(i + 1)
		list[i], list[j] = list[j], list[i]
	}
}

// mutate is a document with up to most changes of every kind.
func mutate(s source, doc *tables.Calibration, most int) *tables.Calibration {
	for range s.n(most + 1) {
		doc = mutateOnce(s, doc)
	}
	return doc
}

func mutateOnce(s source, doc *tables.Calibration) *tables.Calibration {
	c := doc.Contents()
	c.Tables = slices.Clone(c.Tables)
	if len(c.Tables) == 0 || s.n(12) == 0 {
		switch s.n(4) {
		case 0:
			c.Name = pick(s, []string{"", "van", "boat", "tractor"})
		case 1:
			c.Notes = pick(s, []string{"", "one", "one two", "two"})
		case 2:
			c.Engine = pick(s, []*tables.Engine{nil, {}, {Cylinders: 4}, {StoichAFR: 14.7, RailPressure: &tables.RailPressure{Value: 380, Unit: "kPa", RelativeTo: tables.Manifold}}})
		case 3:
			tables.Kept{In: &c.Extra, Key: pick(s, []string{"x-a", "x-b"})}.Set(pick(s, []string{"1", `"t"`}), s.n(3) > 0)
		}
		if len(c.Tables) > 0 {
			return must(tables.NewCalibration(c))
		}
	}
	switch s.n(14) {
	case 0: // remove
		if len(c.Tables) > 0 {
			at := s.n(len(c.Tables))
			c.Tables = slices.Delete(c.Tables, at, at+1)
		}
	case 1: // add
		if id := pick(s, ids); doc.Table(id) == nil {
			c.Tables = slices.Insert(c.Tables, s.n(len(c.Tables)+1), genTable(s, id))
		}
	case 2:
		shuffle(s, c.Tables)
	default:
		if len(c.Tables) > 0 {
			at := s.n(len(c.Tables))
			c.Tables[at] = mutateTable(s, c.Tables[at])
		}
	}
	return must(tables.NewCalibration(c))
}

func mutateTable(s source, t *tables.Table) *tables.Table {
	f := t.Fields()
	f.Values = slices.Clone(f.Values)
	switch s.n(12) {
	case 0:
		f.Title = pick(s, []string{"", "Flow", "Flow of it"})
	case 1:
		f.Unit = pick(s, []string{"ms", "us", "deg"})
	case 2:
		f.Resolution = pick(s, resolutions)
	case 3:
		f.Limits = pick(s, []*tables.Limits{nil, {Low: 0, High: 40}, {Low: math.Copysign(0, -1), High: 40}})
	case 4:
		tables.Kept{In: &f.Extra, Key: "x-k"}.Set(pick(s, []string{"1", "2"}), s.n(2) == 0)
	case 5, 6:
		mutateAxis(s, &f)
	case 7:
		return genTable(s, f.ID)
	default:
		for range 1 + s.n(3) {
			f.Values[s.n(len(f.Values))] = pick(s, pool)
		}
	}
	return must(tables.NewTable(f))
}

// mutateAxis inserts, drops or moves a breakpoint of x or y.
func mutateAxis(s source, f *tables.Fields) {
	axis, alongX := &f.X, true
	if f.Y != nil && s.n(2) == 0 {
		axis, alongX = &f.Y, false
	}
	if *axis == nil {
		return
	}
	p := slices.Clone((*axis).Points())
	at := s.n(len(p))
	switch s.n(3) {
	case 0:
		v := pick(s, points)
		i, found := slices.BinarySearch(p, v)
		if found {
			return
		}
		p = slices.Insert(p, i, v)
		insertLine(f, alongX, i, func() float64 { return pick(s, pool) })
	case 1:
		if len(p) == 1 {
			return
		}
		p = slices.Delete(p, at, at+1)
		dropLine(f, alongX, at)
	case 2:
		p[at] += 0.25
	}
	if a, err := tables.NewAxis((*axis).Quantity(), (*axis).Unit(), p); err == nil {
		*axis = a
	}
}

func insertLine(f *tables.Fields, alongX bool, at int, v func() float64) {
	r, c := rows(f), columns(f)
	var out []float64
	for i := range r {
		if !alongX && i == at {
			for range c {
				out = append(out, v())
			}
		}
		for j := range c {
			if alongX && j == at {
				out = append(out, v())
			}
			out = append(out, f.Values[i*c+j])
		}
		if alongX && at == c {
			out = append(out, v())
		}
	}
	if !alongX && at == r {
		for range c {
			out = append(out, v())
		}
	}
	f.Values = out
}

func dropLine(f *tables.Fields, alongX bool, at int) {
	c := columns(f)
	var out []float64
	for i, v := range f.Values {
		if alongX && i%c != at || !alongX && i/c != at {
			out = append(out, v)
		}
	}
	f.Values = out
}

// spell is a document in words, for messages of failing tests.
func spell(doc *tables.Calibration) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%q %q %s %v\n", doc.Name(), doc.Notes(), doc.Engine().Text(), doc.Contents().Extra)
	for _, t := range doc.Tables() {
		f := t.Fields()
		fmt.Fprintf(&b, "  %s", f.ID)
		for _, g := range tables.TableFields.Of(&f) {
			fmt.Fprintf(&b, " %s %s", g.Name, g.Text(&f))
		}
		b.WriteString(": ")
		for _, v := range f.Values {
			fmt.Fprintf(&b, "%s ", cellText(v))
		}
		b.WriteByte('\n')
	}
	return b.String()
}

type failer interface {
	Fatalf(format string, args ...any)
	Helper()
}

// always runs a law on shrinking examples, and on many more fast ones.
func always(t *testing.T, many int, law func(f failer, s source)) {
	t.Helper()
	rapid.Check(t, func(t *rapid.T) { law(t, rapidSource{t}) })
	for seed := range uint64(many) {
		law(t, newRand(seed))
	}
}
