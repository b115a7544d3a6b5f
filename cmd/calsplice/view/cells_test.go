package view

import (
	"fmt"
	"strings"
	"testing"

	"calsplice/tables/tablejson"
)

// TestIntervalLeavesTheCells: the interval is t(0.975, visits − 1) · se, by a table of
// Student's t, however often it is asked for, and the standard errors stay.
func TestIntervalLeavesTheCells(t *testing.T) {
	axis := `"x": {"quantity": "engine speed", "unit": "r/min", "points": [800, 1600]}`
	var list []string
	for _, c := range []struct{ id, unit, values string }{{"count", "1", "[90, 90]"}, {"visits", "1", "[5, 21]"}, {"mean", "%", "[3, 4]"}, {"se", "%", "[0.5, 0.25]"}} {
		list = append(list, fmt.Sprintf(`{"id": "trim.%s", "unit": %q, %s, "values": %s}`, c.id, c.unit, axis, c.values))
	}
	doc, err := tablejson.Parse([]byte(`{"format": "calsplice.cells/1", "tables": [`+strings.Join(list, ", ")+`]}`), "cells.json")
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		v, err := Cells(doc, "interval")
		if err != nil {
			t.Fatal(err)
		}
		row := v.Parts[0].Grids[0].Cells[0]
		if got := row[0].Text + " " + row[1].Text; got != "1.39 0.52" { // 2.776 · 0.5 and 2.086 · 0.25
			t.Errorf("half the intervals are %s, want 1.39 0.52", got)
		}
	}
	if se := doc.Table("trim.se").Values(); se[0] != 0.5 || se[1] != 0.25 {
		t.Errorf("the standard errors have become %v", se)
	}
}
