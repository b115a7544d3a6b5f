package view

import (
	"fmt"
	"math"
	"strings"

	"calsplice/interp/lookup"
	"calsplice/merge/propose"
	"calsplice/tables"
)

// Fuel is how delivered fuel at full load follows from the tables that are
// decided about, as data: the script of a page works it out anew with every
// decision, by the rule of [Decide.moreFuel].
type Fuel struct {
	Place   string        `json:"place"`
	Parts   []FuelPart    `json:"parts"`
	Learned tables.Number `json:"learned"` // % of trim that may be applied there today
	Without string        `json:"without"` // what is decided about too, but not counted, since the point does not tell it
}

// FuelPart is one table's part: what is read there, and what it does to fuel.
// Flow divides, air multiplies, and an offset adds its change times Scale.
type FuelPart struct {
	Table  int            `json:"table"`
	How    string         `json:"how"` // divide, multiply, add
	Scale  float64        `json:"scale"`
	Shares []lookup.Share `json:"shares"`
}

// fullLoad finds out what the tables that are decided about do at full load;
// nil where none of them decides on fuel there.
func (d *Decide) fullLoad(doc *tables.Calibration, at lookup.Point, place string, learned tables.Number) *Fuel {
	f := &Fuel{Place: place, Learned: learned, Parts: []FuelPart{}}
	var without []string
	for i, s := range d.Tables {
		t := doc.Table(s.id)
		if t == nil {
			continue
		}
		how := map[tables.Role]string{tables.InjectorFlow: "divide", tables.AirVolumetricEfficiency: "multiply", tables.AirMeter: "multiply", tables.InjectorOffset: "add"}[t.Role()]
		if how == "" {
			continue
		}
		p := FuelPart{Table: i, How: how, Scale: 1}
		b, err := lookup.Bind(t)
		if err == nil && s.Values != nil {
			p.Shares = b.Shares(&at)
		}
		if how == "add" {
			if c, err := lookup.Base(t.Unit()); err == nil {
				p.Scale = (c.Apply(1) - c.Apply(0)) / at.Pulse
			}
		}
		if p.Shares == nil || math.IsNaN(p.Scale) || math.IsInf(p.Scale, 0) {
			without = append(without, s.Name)
			continue
		}
		f.Parts = append(f.Parts, p)
	}
	if len(f.Parts) == 0 {
		return nil
	}
	f.Without = strings.Join(without, ", ")
	return f
}

// moreFuel is by how many per cent more fuel is delivered at full load with everything
// kept.
func (d *Decide) moreFuel() float64 {
	ratio, more := 1.0, 0.0
	for _, p := range d.FullLoad.Parts {
		before, a, b := d.Tables[p.Table].Values, 0.0, 0.0
		now, _ := d.cells(p.Table)
		for _, s := range p.Shares {
			a, b = a+float64(float64(before[s.Cell])*s.Weight), b+float64(float64(now[s.Cell])*s.Weight)
		}
		switch p.How {
		case "divide":
			ratio *= a / b
		case "multiply":
			ratio *= b / a
		default:
			more += float64((b - a) * p.Scale)
		}
	}
	return 100 * (ratio - 1 + more)
}

// leastStep is how much larger a step has to be to count as larger: less is the
// rounding of a difference.
const leastStep = 1e-9

// step is the largest step between two neighbours of which at least one is
// decided about, and where it is.
func (s *Decided) step(values []tables.Number, decided map[int]bool) (largest float64, where string) {
	look := func(i, j int) {
		if d := math.Abs(float64(values[j] - values[i])); (decided[i] || decided[j]) && d > largest+leastStep {
			largest, where = d, s.between(i, j)
		}
	}
	for i := range values {
		if (i+1)%s.Columns != 0 {
			look(i, i+1)
		}
		if i+s.Columns < len(values) {
			look(i, i+s.Columns)
		}
	}
	return largest, where
}

func (s *Decided) between(i, j int) string { return s.place(i) + " and " + s.place(j) }

// place is a cell by its breakpoints.
func (s *Decided) place(i int) string { return placeAt(s.X, s.Y, i/s.Columns, i%s.Columns) }

// effect says what everything kept does: delivered fuel at full load, and the
// largest step in each table.
func (d *Decide) effect() (facts []Fact) {
	if f := d.FullLoad; f != nil {
		change := d.moreFuel()
		words := tables.Signed(change, 1) + " %"
		if f.Learned.Known() {
			words += "; " + tables.Signed(100*((1+change/100)/(1+float64(f.Learned)/100)-1), 1) + " % once learned trim is cleared"
		}
		if f.Without != "" {
			words += "; without " + f.Without
		}
		facts = append(facts, Fact{"Fuel at full load", words + " (" + f.Place + ")"})
	}
	return append(facts, d.steps()...)
}

// steps is the largest step in each table that is decided about.
func (d *Decide) steps() (facts []Fact) {
	if d == nil {
		return nil
	}
	for i, s := range d.Tables {
		values, decided := d.cells(i)
		if len(values) < 2 || len(decided) == 0 {
			continue
		}
		now, where := s.step(values, decided)
		was, _ := s.step(s.Values, decided)
		if now == 0 {
			continue
		}
		write := func(v float64) string { return strings.TrimSpace(tables.Fixed(v, s.Decimals) + " " + s.Unit) }
		facts = append(facts, Fact{"Largest step, " + s.Name, fmt.Sprintf("%s, was %s; between %s", write(now), write(was), where)})
	}
	return facts
}

// nominal takes the usual point of full load, where no drive gives one. The
// engine's parts must be the same then: with other injectors another flow is right.
func (d *Decide) nominal(doc *tables.Calibration) {
	at, place := propose.NominalFullLoad(doc.Engine())
	d.FullLoad = d.fullLoad(doc, at, place+", the same injectors", tables.Number(math.NaN()))
}

// effect puts first what everything kept does.
func (v *View) effect() {
	if v.Decide != nil {
		v.add(Part{Heading: "What the edits do", Facts: v.Decide.effect(), On: OnPages})
	}
}
