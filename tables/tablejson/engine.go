package tablejson

import (
	"fmt"
	"math"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

var nan = math.NaN()

var (
	engineKeys  = strictjson.Keys{Known: tables.EngineFields.Names(), Extra: true}
	measureKeys = strictjson.Keys{Known: []string{"value", "unit"}, Need: []string{"value", "unit"}}
	railKeys    = strictjson.Keys{Known: []string{"value", "unit", "relative_to"}, Need: []string{"value", "unit", "relative_to"}}
	sourceKeys  = strictjson.Keys{Known: []string{"name", "sha256", "rows", "kept", "dropped"}, Need: []string{"name", "rows", "kept"}}
)

// Engine reads the facts about an engine.
func (r *Reader) Engine() *tables.Engine {
	before := r.Faults()
	e := &tables.Engine{}
	extra := r.Extras()
	r.Object(engineKeys, func(key string) { Field(r, tables.EngineFields, key, e, extra) })
	e.Extra = extra.Done()
	if r.Faults() != before {
		return nil
	}
	return e
}

func (r *Reader) measure() *tables.Measure {
	m := &tables.Measure{}
	r.Object(measureKeys, func(key string) {
		if key == "value" {
			at, ok := r.Mark(), false
			if m.Value, ok = r.Number(); ok && !(m.Value > 0) {
				r.Fault(at, "", fmt.Sprintf("found %s, want a number above 0", tables.FormatValue(m.Value)))
			}
		} else {
			m.Unit, _ = r.Text()
		}
	})
	return m
}

func (r *Reader) rail() *tables.RailPressure {
	start, before := r.Mark(), r.Faults()
	p := &tables.RailPressure{}
	r.Object(railKeys, func(key string) {
		switch at := r.Mark(); key {
		case "value":
			p.Value, _ = r.Number()
		case "unit":
			p.Unit, _ = r.Text()
		default:
			text, ok := r.Text()
			if p.RelativeTo = tables.Reference(text); ok {
				r.check(at, p.RelativeTo.Validate())
			}
		}
	})
	if r.Faults() == before {
		r.check(start, p.Validate())
	}
	return p
}

// Sources reads the logs behind cell averages.
func (r *Reader) Sources() []tables.Source {
	var list []tables.Source
	r.Array(func(int) {
		s := tables.Source{}
		r.Object(sourceKeys, func(key string) {
			switch key {
			case "name":
				s.Name, _ = r.Text()
			case "sha256":
				s.SHA256, _ = r.Text()
			case "rows":
				s.Rows, _ = r.Whole()
			case "kept":
				s.Kept, _ = r.Whole()
			case "dropped":
				r.Object(strictjson.Keys{}, func(reason string) {
					n, _ := r.Whole()
					s.Dropped = append(s.Dropped, tables.Dropped{Reason: reason, Count: n})
				})
			}
		})
		list = append(list, s)
	})
	return list
}

// State reads what cell averages carry, whatever it is.
func (r *Reader) State() []tables.ExtraKey {
	var keys []tables.ExtraKey
	r.Object(strictjson.Keys{}, func(key string) {
		if v, ok := r.Raw(); ok {
			keys = append(keys, tables.ExtraKey{Key: key, Value: v})
		}
	})
	tables.SortKeys(keys)
	return keys
}
