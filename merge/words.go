package merge

import (
	"fmt"
	"strconv"
	"strings"

	"calsplice/tables"
)

// How values look in an error line: short, and clean of what could steer a
// terminal.

func quoted(s string) string {
	if s == "" {
		return "nothing"
	}
	return tables.Quote(s)
}

func number(v float64) string {
	if s := tables.FormatValue(v); s != "" && v != 0 {
		return s
	}
	return "nothing"
}

// cellText is a cell's value, the sign of −0 included.
func cellText(v float64) string {
	if s := tables.FormatValue(v); s != "" {
		return s
	}
	return "an empty cell"
}

func limitsText(l *tables.Limits) string {
	if l == nil {
		return "nothing"
	}
	return tables.FormatValue(l.Low) + " to " + tables.FormatValue(l.High)
}

// axisText is an axis in a line: its first breakpoints stand for the rest.
func axisText(a *tables.Axis) string {
	if a == nil {
		return "no axis"
	}
	const most = 12
	var points []string
	for i := 0; i < a.Len() && i < most; i++ {
		points = append(points, tables.FormatValue(a.At(i)))
	}
	if a.Len() > most {
		points = append(points, "… "+strconv.Itoa(a.Len())+" in all")
	}
	return strings.TrimSpace(tables.Clean(a.Label())+" "+strings.Join(points, ", ")) + extraText(a.Extra())
}

func extraText(e tables.Extra) string {
	var b strings.Builder
	for _, k := range e {
		b.WriteString(", " + tables.Clean(k.Key) + " " + tables.Clean(k.Value))
	}
	return b.String()
}

// engineText lists the facts about an engine that are given.
func engineText(e *tables.Engine) string {
	if e == nil {
		return "nothing"
	}
	facts := EngineFacts(e)
	words := make([]string, len(facts))
	for i, f := range facts {
		words[i] = f.Name + " " + f.Text
	}
	if len(words) == 0 {
		return "no facts"
	}
	return strings.Join(words, ", ")
}

// Fact is one fact about an engine as a person reads it.
type Fact struct{ Name, Text string }

// EngineFacts lists the facts about an engine that are given, in the order of
// the format.
func EngineFacts(e *tables.Engine) []Fact {
	if e == nil {
		return nil
	}
	var facts []Fact
	count := func(name string, n int) {
		if n != 0 {
			facts = append(facts, Fact{name, strconv.Itoa(n)})
		}
	}
	measure := func(name string, m *tables.Measure) {
		if m != nil {
			facts = append(facts, Fact{name, tables.FormatValue(m.Value) + " " + tables.Clean(m.Unit)})
		}
	}
	count("cylinders", e.Cylinders)
	count("strokes", e.Strokes)
	count("injectors", e.Injectors)
	count("pulses_per_cycle", e.PulsesPerCycle)
	measure("displacement", e.Displacement)
	if p := e.RailPressure; p != nil {
		facts = append(facts, Fact{"rail_pressure", fmt.Sprintf("%s %s relative to %s",
			tables.FormatValue(p.Value), tables.Clean(p.Unit), p.RelativeTo)})
	}
	if e.StoichAFR != 0 {
		facts = append(facts, Fact{"stoich_afr", tables.FormatValue(e.StoichAFR)})
	}
	measure("fuel_density", e.FuelDensity)
	for _, k := range e.Extra {
		facts = append(facts, Fact{tables.Clean(k.Key), tables.Clean(k.Value)})
	}
	return facts
}

func sourceText(s []tables.Source) string {
	if len(s) == 0 {
		return "nothing"
	}
	return tables.Plural(len(s), "log")
}

func shape(f *tables.Fields) string {
	return strconv.Itoa(rows(f)) + " × " + strconv.Itoa(columns(f))
}

// place is a cell's address as people read it.
func place(row, column int) string {
	return "[" + strconv.Itoa(row) + ", " + strconv.Itoa(column) + "]"
}

// signed is a change with its sign: "+ 2", "− 1.5".
func signed(v float64) string {
	if v < 0 {
		return "− " + tables.FormatValue(-v)
	}
	return "+ " + tables.FormatValue(v)
}

// coordinates is a place in axis units: "engine speed 800 r/min, load 40 %".
func coordinates(f *tables.Fields, at [2]float64) string {
	var parts []string
	for i, a := range []*tables.Axis{f.X, f.Y} {
		if a != nil {
			parts = append(parts, strings.TrimSpace(tables.Clean(a.Quantity())+" "+tables.FormatValue(at[i])+" "+tables.Clean(a.Unit())))
		}
	}
	return strings.Join(parts, ", ")
}

func andMore(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return "; and at one more place"
	}
	return "; and at " + strconv.Itoa(n) + " more places"
}

// brief is a computed figure in six digits, for a sentence.
func brief(v float64) float64 {
	b, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if err != nil {
		return v
	}
	return b
}
