package tablecsv

import (
	"fmt"
	"strings"

	"calsplice/tables"
	"calsplice/tables/strictcsv"
)

// engineFact reads a line engine,NAME,VALUE[,UNIT[,RELATIVE TO]].
func (r *reader) engineFact(record []strictcsv.Field) {
	if len(record) < 2 {
		r.fault(record[0], "engine has no fact, want engine,NAME,VALUE")
		return
	}
	fact := record[1:]
	name, e := fact[0], &r.engine
	if strings.HasPrefix(name.Text, "x-") {
		var err error
		e.Extra, err = tables.NewExtra(r.kept(e.Extra, fact, "engine ", r.seen))
		r.check(name, err)
		return
	}
	r.once(name, "engine "+name.Text, r.seen)
	switch name.Text {
	case "cylinders":
		e.Cylinders = r.count(fact, 1)
	case "strokes":
		if e.Strokes = r.count(fact, 1); e.Strokes > 0 && e.Strokes != 2 && e.Strokes != 4 {
			r.fault(name, fmt.Sprintf("strokes is %d, want 2 or 4", e.Strokes))
		}
	case "injectors":
		e.Injectors = r.count(fact, 1)
	case "pulses_per_cycle":
		e.PulsesPerCycle = r.count(fact, 1)
	case "displacement":
		e.Displacement = r.measure(fact)
	case "fuel_density":
		e.FuelDensity = r.measure(fact)
	case "stoich_afr":
		if fact, ok := r.want(fact, 1, 1); ok {
			e.StoichAFR = r.positive(fact[1])
		}
	case "rail_pressure":
		if fact, ok := r.want(fact, 3, 3); ok {
			v, ok := r.number(fact[1])
			e.RailPressure = &tables.RailPressure{Value: v, Unit: strictcsv.Unsafe(fact[2].Text), RelativeTo: tables.Reference(fact[3].Text)}
			if ok {
				r.check(name, e.RailPressure.Validate())
			}
		}
	default:
		r.fault(name, "unknown engine fact "+tables.Quote(name.Text))
	}
}

// count reads a whole number of things, at least so many.
func (r *reader) count(fact []strictcsv.Field, least int) int {
	fact, ok := r.want(fact, 1, 1)
	if !ok {
		return 0
	}
	return r.whole(fact[1], least)
}

func (r *reader) whole(at strictcsv.Field, least int) int {
	v, ok := r.number(at)
	n := int(v)
	if ok && (float64(n) != v || n < least || v >= 1<<53) {
		r.fault(at, fmt.Sprintf("found %s, want a whole number from %d", tables.Quote(at.Text), least))
	}
	return n
}

func (r *reader) positive(at strictcsv.Field) float64 {
	v, ok := r.number(at)
	if ok && !(v > 0) {
		r.fault(at, fmt.Sprintf("found %s, want a number above 0", tables.Quote(at.Text)))
	}
	return v
}

func (r *reader) measure(fact []strictcsv.Field) *tables.Measure {
	fact, ok := r.want(fact, 1, 2)
	if !ok {
		return nil
	}
	return &tables.Measure{Value: r.positive(fact[1]), Unit: strictcsv.Unsafe(fact[2].Text)}
}

// source reads a line source,NAME,SHA256,ROWS,KEPT[,REASON,COUNT]….
func (r *reader) source(record []strictcsv.Field) {
	for len(record) < 5 || len(record)%2 == 0 {
		record = append(record, strictcsv.Field{Line: record[0].Line, Column: record[0].Column})
	}
	s := tables.Source{Name: strictcsv.Unsafe(record[1].Text), SHA256: strictcsv.Unsafe(record[2].Text),
		Rows: r.whole(record[3], 0), Kept: r.whole(record[4], 0)}
	for i := 5; i < len(record); i += 2 {
		s.Dropped = append(s.Dropped, tables.Dropped{Reason: strictcsv.Unsafe(record[i].Text), Count: r.whole(record[i+1], 0)})
	}
	r.c.Source = append(r.c.Source, s)
}
