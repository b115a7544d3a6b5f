package tables

import "strings"

// Where says in words where a value lies on the table's axes, such as "engine
// speed 2000 r/min, air charge 500 mg"; a scalar has no place.
func (t *Table) Where(i int) string {
	var words []string
	at := []int{i % t.Columns(), i / t.Columns()}
	for j, a := range t.Axes() {
		if a != nil {
			words = append(words, Clean(a.Quantity())+" "+FormatValue(a.At(at[j]))+" "+Clean(a.Unit()))
		}
	}
	return strings.Join(words, ", ")
}
