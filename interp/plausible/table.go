package plausible

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// table judges one table: by its own words, by its neighbours, by its role.
func (k *checker) table(t *tables.Table) {
	k.axes(t)
	k.ownBounds(t)
	k.neighbours(t)
	role, ok := roles[t.Role()]
	if !ok {
		if t.Role() == "" && slices.Contains(tables.Roles, tables.Role(t.ID())) {
			k.whole(t, "no-role", "a table is computed with and judged by its role, not by its id",
				"its id is the name of a role that it does not have: give it \"role\": %s, or \"other\"", tables.Quote(t.ID()))
		}
		return
	}
	k.judged = true
	u, known := unit.Parse(t.Unit())
	if !known {
		k.whole(t, "unit-unknown", uncomputed, "its unit %s is not known, so nothing can be computed with it for the role %s", tables.Quote(t.Unit()), t.Role())
		return
	}
	if !slices.Contains(role.dims, u.Dimension()) {
		k.whole(t, "unit-role", "the unit's dimension", "unit %s measures %s, which the role %s does not have", tables.Quote(t.Unit()), u.Dimension(), t.Role())
		return
	}
	if role.within.rule != "" {
		k.within(t, role.within)
	}
	if role.judge != nil {
		role.judge(k, t)
	}
}

// roles are those that are judged: what their values may be measured in and lie between,
// and what else they are held against. Of an efficiency 0 is a cell in which the engine
// never runs, such as at 0 r/min; beyond the bounds a unit or a factor has slipped.
var roles = map[tables.Role]struct {
	dims   []unit.Dimension
	within bounds
	judge  func(k *checker, t *tables.Table)
}{
	tables.InjectorFlow:              {dims: []unit.Dimension{unit.MassFlow, unit.VolumeFlow}, judge: (*checker).flow},
	tables.InjectorOffset:            {[]unit.Dimension{unit.Time}, bounds{rule: "offset-size", high: 10, unit: "ms"}, (*checker).offset},
	tables.InjectorNonlinear:         {dims: []unit.Dimension{unit.Time, unit.Ratio}},
	tables.InjectorMinPulse:          {dims: []unit.Dimension{unit.Time}, within: bounds{rule: "min-pulse", high: 3, unit: "ms"}},
	tables.InjectorReferencePressure: {dims: []unit.Dimension{unit.Pressure}, within: bounds{rule: "reference-pressure", high: 1000, unit: "kPa"}},
	tables.SparkAdvance:              {dims: []unit.Dimension{unit.Angle}, judge: (*checker).spark},
	tables.SparkFallback:             {dims: []unit.Dimension{unit.Angle}, judge: (*checker).spark},
	tables.AirMeter:                  {dims: []unit.Dimension{unit.MassFlow}, judge: (*checker).meter},
	tables.AirVolumetricEfficiency:   {dims: []unit.Dimension{unit.Ratio}, within: bounds{"efficiency", 5, 250, "%", []float64{0}}},
	tables.FuelStoichAFR:             {dims: []unit.Dimension{unit.AirFuelRatio, unit.Ratio}, judge: (*checker).stoich},
}

// stoich judges a ratio of air to fuel; a share is none.
func (k *checker) stoich(t *tables.Table) {
	if u, _ := unit.Parse(t.Unit()); u.Dimension() == unit.AirFuelRatio || u.Name() == "1" {
		k.within(t, bounds{rule: "stoich", low: stoichLow, high: stoichHigh, unit: u.Name()})
	}
}

// uncomputed is the basis of findings that no rule can look behind.
const uncomputed = "what is not known can be kept and compared, and nothing else"

// axes judges whether an axis can be computed with and its unit measures its
// quantity. What a meter's signal is called is nobody's business.
func (k *checker) axes(t *tables.Table) {
	judged := roles[t.Role()].dims != nil
	for i, a := range t.Axes().All() {
		name, quantity, in := "xy"[i:i+1], a.Quantity(), a.Unit()
		u, known := unit.Parse(in)
		switch understood := slices.Contains(tables.Quantities, quantity); {
		case !judged:
			k.units.add(t, in, known)
			k.quantities.add(t, quantity, understood)
		case t.Role() == tables.AirMeter:
		case !understood:
			k.whole(t, "quantity-unknown", uncomputed, "the quantity %s of its %s axis is not known, expected one of %s",
				tables.Quote(quantity), name, strings.Join(tables.Quantities, ", "))
		case !known:
			k.whole(t, "unit-unknown", uncomputed, "the unit %s of its %s axis is not known, so nothing can be computed along it", tables.Quote(in), name)
		}
		if !unit.Fits(quantity, in) {
			k.whole(t, "unit-axis", "the unit's dimension", "the %s axis is %s in %s, which measures %s",
				name, tables.Quote(quantity), tables.Quote(in), u.Dimension())
		}
	}
	if _, known := unit.Parse(t.Unit()); !judged {
		k.units.add(t, t.Unit(), known)
	}
}

// unknownWords are those of tables without a role that nothing computes with, each with the
// first table that has it.
type unknownWords struct{ words, said []string }

func (u *unknownWords) add(t *tables.Table, word string, known bool) {
	if !known && word != "" && !slices.Contains(u.words, word) {
		u.words, u.said = append(u.words, word), append(u.said, fmt.Sprintf("%s (%s)", tables.Quote(word), t.ID()))
	}
}

// unjudged says what a document holds that no rule looked at: units and
// quantities of tables without a role, and tables none of which has one.
func (k *checker) unjudged() {
	if len(k.doc.Tables()) > 0 && !k.judged {
		k.notes.Add("no table has a role, so values were held against their own limits, resolution and neighbours only")
	}
	for i, said := range [][]string{k.units.said, k.quantities.said} {
		if n := len(said) - most; n > 0 {
			said = append(said[:most], fmt.Sprintf("and %d more", n))
		}
		if said != nil {
			k.notes.Addf("%s that nothing computes with: %s", []string{"units", "quantities"}[i], strings.Join(said, ", "))
		}
	}
}

// ownBounds holds values against the table's own limits and resolution.
func (k *checker) ownBounds(t *tables.Table) {
	for i, v := range t.Values() {
		if l := t.Limits(); l != nil && (v < l.Low || v > l.High) {
			k.cell(t, i, "limits", "the table's own limits", "%s is outside the limits %s to %s",
				amount(v, t.Unit()), tables.FormatValue(l.Low), amount(l.High, t.Unit()))
		}
		// A hundredth of a step is what writing a binary step in decimals costs.
		if r := t.Resolution(); r > 0 && math.Abs(v-t.Round(v)) > r/100 {
			k.cell(t, i, "resolution", "the table's own resolution", "%s is not a multiple of the resolution %s: the controller would store %s",
				amount(v, t.Unit()), amount(r, t.Unit()), tables.FormatValue(t.Round(v)))
		}
	}
}

// bounds are what a value lies between, in a unit, both of them outside.
type bounds struct {
	rule      string
	low, high float64
	unit      string
	but       []float64 // values that may be anywhere
}

// within holds every value between two bounds.
func (k *checker) within(t *tables.Table, r bounds) {
	for i, v := range t.Values() {
		if b, err := unit.Convert(v, t.Unit(), r.unit); !slices.Contains(r.but, v) && (err != nil || !(b > r.low && b < r.high)) {
			k.cell(t, i, r.rule, practice, "%s is not between %s and %s",
				amount(v, t.Unit()), tables.FormatValue(r.low), amount(r.high, r.unit))
		}
	}
}

// meter judges an air meter's curve: its flow rises with its signal, or stays
// at its ends. A period is a signal that runs the other way, and is not checked.
func (k *checker) meter(t *tables.Table) {
	if t.X() == nil || t.Y() != nil {
		return
	}
	if u, known := unit.Parse(t.X().Unit()); known && u.Dimension() == unit.Time {
		return
	}
	k.ordered(t, along(t, 0)[0], ordered{"meter", "a meter's flow rises with its signal; " + practice, "flow falls as the signal rises",
		func(step float64) bool { return step < -t.Tolerance() }})
}

// The physical bounds of spark timing, in degrees before top dead centre:
// beyond them a mixture burns while the piston rises or after the exhaust
// opens.
const sparkLow, sparkHigh = -20, 70

// spark judges spark advance.
func (k *checker) spark(t *tables.Table) {
	for i, v := range t.Values() {
		if v < sparkLow || v > sparkHigh {
			k.cell(t, i, "spark-bounds", practice, "%s is outside %d to %d deg", amount(v, t.Unit()), sparkLow, sparkHigh)
		}
	}
}

// round is v as a person reads it, where it was computed.
func round(v float64) float64 { return math.Round(v*1000) / 1000 }
