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
	f, ok := tables.EngineFields.Find(name.Text)
	if !ok {
		r.fault(name, "unknown engine fact "+tables.Quote(name.Text))
		return
	}
	r.once(name, "engine "+name.Text, r.seen)
	readField(r, f, e, fact)
}

// readField reads the line of a field, which begins with its name. Axes and
// values have lines of their own, and so have logs and state.
func readField[T any](r *reader, f tables.Field[T], to *T, record []strictcsv.Field) {
	name, before := record[0], len(r.faults)
	switch p := f.At(to).(type) {
	case *string:
		*p = r.text(record)
	case *tables.Role:
		*p = tables.Role(r.text(record))
		r.check(name, p.Validate())
	case *int:
		if record, ok := r.want(record, 1, 1); ok {
			*p = r.whole(record[1], 1)
		}
	case *float64:
		if record, ok := r.want(record, 1, 1); ok {
			*p, _ = r.number(record[1])
		}
	case **tables.Limits:
		if record, ok := r.want(record, 2, 2); ok {
			low, ok := r.number(record[1])
			high, ok2 := r.number(record[2])
			if *p = (&tables.Limits{Low: low, High: high}); ok && ok2 {
				r.check(name, (*p).Validate())
			}
		}
	case **tables.Measure:
		if record, ok := r.want(record, 1, 2); ok {
			v, _ := r.number(record[1])
			*p = &tables.Measure{Value: v, Unit: strictcsv.Unsafe(record[2].Text)}
		}
	case **tables.RailPressure:
		if record, ok := r.want(record, 3, 3); ok {
			v, ok := r.number(record[1])
			*p = &tables.RailPressure{Value: v, Unit: strictcsv.Unsafe(record[2].Text), RelativeTo: tables.Reference(record[3].Text)}
			if ok {
				r.check(name, (*p).Validate())
			}
		}
	}
	if len(r.faults) == before {
		if wrong := f.Wrong(to); wrong != "" {
			r.fault(name, f.Name+" is "+wrong)
		}
	}
}

func (r *reader) whole(at strictcsv.Field, least int) int {
	v, ok := r.number(at)
	n := int(v)
	if ok && (float64(n) != v || n < least || v >= 1<<53) {
		r.fault(at, fmt.Sprintf("found %s, want a whole number from %d", tables.Quote(at.Text), least))
	}
	return n
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
