package tables

// Where says in words where a value lies on the table's axes, such as "engine
// speed 2000 r/min, air charge 500 mg"; a scalar has no place.
func (t *Table) Where(i int) string {
	s := ""
	for _, a := range []struct {
		axis *Axis
		at   int
	}{{t.X(), i % t.Columns()}, {t.Y(), i / t.Columns()}} {
		if a.axis == nil {
			continue
		}
		if s != "" {
			s += ", "
		}
		s += a.axis.Quantity() + " " + FormatValue(a.axis.At(a.at)) + " " + a.axis.Unit()
	}
	return s
}
