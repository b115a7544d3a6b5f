package view

import (
	"fmt"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// averages are cell averages of a channel: each statistic with its unit and its values
// over two speeds.
func averages(t *testing.T, channel string, statistics [][3]string) *tables.Calibration {
	t.Helper()
	var list []string
	for _, s := range statistics {
		list = append(list, fmt.Sprintf(`{"id": "%s.%s", "unit": %q, "x": {"quantity": "engine speed", "unit": "r/min", "points": [800, 1600]}, "values": %s}`, channel, s[0], s[1], s[2]))
	}
	doc, err := tablejson.Parse([]byte(`{"format": "calsplice.cells/1", "tables": [`+strings.Join(list, ", ")+`]}`), "cells.json")
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// TestIntervalLeavesTheCells: the interval is t(0.975, visits − 1) · se, by a table of
// Student's t, however often it is asked for, and the standard errors stay.
func TestIntervalLeavesTheCells(t *testing.T) {
	doc := averages(t, "trim", [][3]string{{"count", "1", "[90, 90]"}, {"visits", "1", "[5, 21]"}, {"mean", "%", "[3, 4]"}, {"se", "%", "[0.5, 0.25]"}})
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

// TestEmptyCells: a cell without samples is a dot, whatever the channel and the
// statistic, and the cell beside it a number with the sign that the channel has.
func TestEmptyCells(t *testing.T) {
	for channel, want := range map[string]string{"trim": "+3", "mixture_error": "+3", "knock_retard": "3", "lambda": "3"} {
		doc := averages(t, channel, [][3]string{{"count", "1", "[90, null]"}, {"visits", "1", "[5, null]"}, {"mean", "%", "[3, null]"}, {"max", "%", "[3, null]"}, {"se", "%", "[1.5, null]"}})
		v, err := Cells(doc, "mean")
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range v.Parts[0].Grids {
			if row := g.Cells[0]; row[1] != empty || strings.HasPrefix(g.Name, "m") && row[0].Text != want {
				t.Errorf("%s: %s is %s and %s, want %s and %s", channel, g.Name, row[0].Text, row[1].Text, want, empty.Text)
			}
		}
	}
}
