// Package tabletest makes adversarial documents for tests: odd texts, formulas
// as text, line ends in notes, kept keys, axes of one point, scalars, both
// zeros, numbers at the ends of what a double holds, shared and shifted axes,
// flat tables, with resolutions and without.
//
// A law is written once, against a [Source] of choices, and run from three of
// them: [Rapid] (which shrinks and fuzzes), [Rand] (fast, for ten thousand
// documents), and a fuzzer through rapid.MakeFuzz.
package tabletest

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

// Source is where a generator gets its choices: N gives 0 … k−1.
type Source interface{ N(k int) int }

type rapidSource struct{ t *rapid.T }

func (s rapidSource) N(k int) int { return rapid.IntRange(0, k-1).Draw(s.t, "n") }

// Rapid takes its choices from a rapid property.
func Rapid(t *rapid.T) Source { return rapidSource{t} }

type randSource struct{ r *rand.Rand }

func (s randSource) N(k int) int { return s.r.IntN(k) }

// Rand takes its choices from a seed.
func Rand(seed uint64) Source { return randSource{rand.New(rand.NewPCG(seed, 1))} }

// Failer is a test, or a rapid property.
type Failer interface {
	Fatalf(format string, args ...any)
	Helper()
}

// Always runs a law on shrinking examples, and on many more fast ones.
func Always(t *testing.T, many int, law func(f Failer, s Source)) {
	t.Helper()
	rapid.Check(t, func(t *rapid.T) { law(t, Rapid(t)) })
	for seed := range uint64(many) {
		law(t, Rand(seed))
	}
}

// Texts are titles, notes, units and names that some spelling may trip over.
var Texts = []string{
	"", "Injector flow", "free text", "=1+1", "=HYPERLINK(\"http://example.invalid\")", "+1", "-", "-1", "-a", "@SUM(A1)",
	"'", "''", "'=1", "''=1", "'tis", "a,b", "a;b", "tab\there", `say "x"`, `"`, "line\nfeed", "two\r\nlines", "\r", "\n", "\t=1",
	" lead", "trail ", "  ", "\u00a0", "Δp at 20 °C, µs", "日本語", "🚗", "table", "end", "x", "value", "1,5", "1.5", "007", "1e999",
	"NaN", "null", "TRUE", "#N/A", "_x000D_", "_x0041_", "12 May", "\x1b[31mred", "\x01", "\x7f", "\u200b", "\ufeff", "\u202eleft",
	"\u2028", "\ufffd", "＝1", "{}", "[1, 2]", "\\", "\\n", "</script>", "<b>", "&amp;", "a\x0bb", "x-y",
}

// Pool are numbers that some spelling may trip over: both zeros, neighbours
// nearer than any resolution, the ends of what a double holds, and numbers with
// and without an exponent.
var Pool = []float64{0, math.Copysign(0, -1), 1, -1.5, 1.04, 1.05, 1.06, 2, 40, 0.1, 0.3, 7, 7.0000000001, 100, 1000, 12345.678,
	1e-300, -1e-300, 5e-324, math.MaxFloat64, -math.MaxFloat64, 1e21, 1e20, 1e-6, 1e-7, 123456789012345680000, 1.0 / 3, 0.1 + 0.2}

// Near has neighbours nearer than half of each of [Resolutions] beside far ones,
// both zeros, and numbers at the ends of what a double holds.
var Near = []float64{0, math.Copysign(0, -1), 1, 1.04, 1.05, 1.06, 1.5, 2, -1.5, 40, 40.4, 40.6, 1e-300, -1e-300, 1e15, 1e300, 0.1, 0.3, 7, 7.0000000001}

// Resolutions are those that tables have, and none.
var Resolutions = []float64{0, 0, 0.01, 0.1, 1, 0.5}

var kept = []string{`1`, `1.50`, `"t"`, `null`, `true`, `-0`, `[]`, `{}`, `{"a":[1,2,{"b":"c d"}]}`, `"=1+1"`, `"line\nfeed"`,
	`"\u00e9 é , ; "`, `[[[[1]]]]`, `1e-300`, `-1.5e+3`}

var pointPool = []float64{-1e300, -40, -4, math.Copysign(0, -1), 1e-300, 0.5, 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 20.5, 600, 800, 1200, 1e15, 1e22}

// Pick is one of a list.
func Pick[T any](s Source, from []T) T { return from[s.N(len(from))] }

// Must panics at an error: a generator that makes unsound documents is broken.
func Must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// Text is an odd text; most are empty or plain.
func Text(s Source) string {
	switch s.N(6) {
	case 0:
		return Pick(s, Texts) + Pick(s, Texts)
	case 1, 2, 3:
		return Pick(s, Texts)
	}
	return ""
}

// Number is a finite number.
func Number(s Source) float64 {
	switch s.N(4) {
	case 0:
		return Pick(s, Pool)
	case 1:
		return float64(s.N(2001)-1000) / 100
	case 2:
		return float64(s.N(1<<20)) / float64(1+s.N(1<<10))
	}
	v := math.Float64frombits(uint64(s.N(1<<32))<<32 | uint64(s.N(1<<32)))
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// Extra are kept keys; most often none.
func Extra(s Source) tables.Extra {
	var e tables.Extra
	for _, k := range []string{"x-a", "x-odd key, \"q\"", "x-", "x-é"} {
		if s.N(8) == 0 {
			e.Keep(k, Pick(s, kept))
		}
	}
	return e
}

// Axis is an axis of 1 to most points.
func Axis(s Source, most int) *tables.Axis {
	n := 1 + s.N(min(most, len(pointPool)))
	if s.N(3) == 0 {
		n = 1
	}
	start := s.N(len(pointPool) - n + 1)
	return Must(tables.AxisParts{Quantity: Pick(s, []string{"engine speed", "battery voltage", "load", Text(s)}),
		Unit: Pick(s, []string{"r/min", "V", "kPa", Text(s)}), Points: pointPool[start : start+n], Extra: Extra(s)}.Axis())
}

// Table is a table with an id; empty says whether its cells may be.
func Table(s Source, id string, empty bool) *tables.Table {
	f := tables.Fields{ID: id, Title: Text(s), Unit: Pick(s, []string{"g/s", "ms", "deg", "%", Text(s)}), Notes: Text(s), Extra: Extra(s)}
	if s.N(2) == 0 {
		f.Role = Pick(s, tables.Roles)
	}
	if s.N(2) == 0 {
		f.Resolution = Pick(s, []float64{0.001, 0.01, 0.1, 0.5, 1, 1e-9, 1.0 / 3})
	}
	if s.N(3) == 0 {
		a, b := Number(s), Number(s)
		f.Limits = &tables.Limits{Low: min(a, b), High: max(a, b)}
	}
	n := 1
	if kind := s.N(4); kind > 0 {
		f.X = Axis(s, 12)
		n = f.X.Len()
		if kind > 1 {
			f.Y = Axis(s, 12)
			n *= f.Y.Len()
		}
	}
	flat, first := s.N(4) == 0, Number(s)
	f.Values = make([]float64, n)
	for i := range f.Values {
		switch {
		case empty && s.N(4) == 0:
			f.Values[i] = math.NaN()
		case flat:
			f.Values[i] = first
		default:
			f.Values[i] = Number(s)
		}
	}
	return Must(tables.NewTable(f))
}

// Engine are the facts about an engine; nil as often as not.
func Engine(s Source) *tables.Engine {
	if s.N(2) == 0 {
		return nil
	}
	e := &tables.Engine{}
	for _, f := range tables.EngineFields.Of(e) {
		if s.N(2) == 0 {
			continue
		}
		for _, p := range f.Parts(e) {
			switch {
			case p.Whole != nil:
				*p.Whole = 2 + 2*s.N(2) // good for strokes too
			case p.Number != nil:
				*p.Number = float64(1+s.N(9000)) / 10
			case p.Words != nil:
				*p.Text = Pick(s, p.Words)
			default:
				*p.Text = Pick(s, []string{"L", "kPa", "kPa(a)", "kg/L", "odd, unit", Text(s)})
			}
		}
	}
	e.Extra = Extra(s)
	return e
}

// IDs are the ids that generated documents choose from, so that two of them
// have some in common.
var IDs = []string{"injector.flow", "injector.offset", "spark.advance", "a", "b-2", "-c", "0", "end", "x", "very_long.id-with.everything_0123456789"}

// Document is a calibration of up to six tables.
func Document(s Source) *tables.Calibration { return document(s, tables.Calibrated) }

// Cells is a document of cell averages: cells may be empty, and sources and a
// state stand in it.
func Cells(s Source) *tables.Calibration { return document(s, tables.Cells) }

func document(s Source, kind tables.Kind) *tables.Calibration {
	c := tables.Contents{Kind: kind, Name: Text(s), Notes: Text(s), Engine: Engine(s), Extra: Extra(s)}
	ids := slices.Clone(IDs)
	for range s.N(6) {
		i := s.N(len(ids))
		t := Table(s, ids[i], kind == tables.Cells)
		if n := len(c.Tables); n > 0 && s.N(3) == 0 {
			t = onAxesOf(s, t, c.Tables[s.N(n)])
		}
		c.Tables = append(c.Tables, t)
		ids = slices.Delete(ids, i, i+1)
	}
	if kind == tables.Cells {
		for i := range s.N(3) {
			src := tables.Source{Name: Text(s), Rows: s.N(1e6), Kept: s.N(1e6)}
			if s.N(2) == 0 {
				src.SHA256 = strings.Repeat(fmt.Sprintf("%02x", i), 32)
			}
			for j, reason := range []string{"engine is cold", "=open, loop", "a\nb"} {
				if s.N(2) == 0 {
					src.Dropped = append(src.Dropped, tables.Dropped{Reason: reason, Count: s.N(1000) * j})
				}
			}
			c.Source = append(c.Source, src)
		}
		for _, k := range []string{"=formula", "cells", "x, y"} {
			if s.N(3) == 0 {
				c.State.Keep(k, Pick(s, kept))
			}
		}
	}
	return Must(tables.NewCalibration(c))
}

// onAxesOf is t on another table's axes, x shifted now and then.
func onAxesOf(s Source, t, o *tables.Table) *tables.Table {
	f := t.Fields()
	f.X, f.Y = o.X(), o.Y()
	if f.X != nil && s.N(2) == 0 {
		p := slices.Clone(f.X.Points())
		p[0] -= 1 + math.Abs(p[0])/2
		if a, err := tables.NewAxis(f.X.Quantity(), f.X.Unit(), p); err == nil {
			f.X = a
		}
	}
	f.Values = make([]float64, len(o.Values()))
	for i := range f.Values {
		f.Values[i] = Number(s)
	}
	return Must(tables.NewTable(f))
}
