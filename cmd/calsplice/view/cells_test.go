package view

import (
	"fmt"
	"strings"
	"testing"

	"calsplice/interp/cells"
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
		row := v.Parts[0].Grids[0].Lines[0][1:]
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
			if row := g.Lines[0][1:]; row[1] != empty || strings.HasPrefix(g.Name, "m") && row[0].Text != want {
				t.Errorf("%s: %s is %s and %s, want %s and %s", channel, g.Name, row[0].Text, row[1].Text, want, empty.Text)
			}
		}
	}
}

// What became of a drive's retard may be a fall, though retard itself has one side: the
// shades of a change are explained by a scale of its own, of both sides.
func TestAChangeHasAScaleOfItsOwn(t *testing.T) {
	c := cells.CellChange{Before: 6, After: 1, Change: -5, P: 0.001, Q: 0.01, Changed: true}
	grids := driveGrids(&cells.ChannelChange{Channel: cells.KnockRetard, Unit: "deg", Cells: []cells.CellChange{c}})
	state, change := grids[1].Legend, grids[2].Legend
	if state[0].Text != "0" || change[0].Text != "−4" || grids[2].Lines[0][1].Level != change[0].Level {
		t.Errorf("the scale of retard begins at %s, that of its change at %s; %+v", state[0].Text, change[0].Text, grids[2].Lines[0][1])
	}
	none := driveGrids(&cells.ChannelChange{Channel: "lambda_error"})[2]
	if none.Lines[0][1] != empty || len(none.Legend) != 1 {
		t.Errorf("without cells the scale is %+v", none.Legend)
	}
}
