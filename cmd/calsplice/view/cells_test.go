package view

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"
)

// averages are cell averages of a channel: each statistic with its unit and its values
// over two speeds.
func averages(t tabletest.Failer, channel string, statistics [][3]string) *tables.Calibration {
	var list []string
	for _, s := range statistics {
		list = append(list, fmt.Sprintf(`{"id": "%s.%s", "unit": %q, "x": {"quantity": "engine speed", "unit": "r/min", "points": [800, 1600]}, "values": %s}`, channel, s[0], s[1], s[2]))
	}
	doc, err := tablejson.Parse([]byte(`{"format": "calsplice.cells/1", "tables": [`+strings.Join(list, ", ")+`]}`), "cells.json")
	if err != nil {
		t.Fatalf("%v", err)
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

// lawShown: what a grid of cells shows is the document's value to its last digit, of every
// statistic and channel, to two figures of the largest at least, with the sign that the channel has; the interval is t · se by a
// table of Student's t; and a cell without samples is a dot.
func lawShown(f tabletest.Failer, s tabletest.Source) {
	student := map[float64]float64{2: 12.7062, 3: 4.30265, 5: 2.77645, 11: 2.22814, 121: 1.97993}
	channel := tabletest.Pick(s, []string{"trim", "mixture_error", "knock_retard", "lambda", "engine_speed"})
	size := tabletest.Pick(s, []float64{1e-4, 0.03, 1, 25, 7000, 3e9})
	want, list := map[string][2]float64{}, [][3]string{}
	empty := s.N(4)
	put := func(statistic string, left, right float64) {
		if empty < 2 {
			*[]*float64{&left, &right}[empty] = math.NaN()
		}
		want[statistic] = [2]float64{left, right}
		list = append(list, [3]string{statistic, "%", fmt.Sprintf("[%s, %s]", inJSON(left), inJSON(right))})
	}
	put("count", float64(1+s.N(50)), 1e6)
	visits := [2]float64{tabletest.Pick(s, []float64{2, 3, 5}), tabletest.Pick(s, []float64{11, 121})}
	put("visits", visits[0], visits[1])
	for _, statistic := range []string{"mean", "sd", "se", "min", "max", "p95", "at_limit"} {
		put(statistic, size*(float64(s.N(2001))/1000-1), size*float64(s.N(1001))/1000)
	}
	want[interval] = [2]float64{student[visits[0]] * want["se"][0], student[visits[1]] * want["se"][1]}
	doc := averages(f, channel, list)
	for statistic, values := range want {
		v, err := Cells(doc, statistic)
		if err != nil {
			f.Fatalf("%v", err)
		}
		largest := max(math.Abs(values[0]), math.Abs(values[1]))
		for c, cell := range v.Parts[0].Grids[0].Lines[0][1:] {
			if math.IsNaN(values[c]) && cell.Text == "·" {
				continue
			}
			_, decimals, _ := strings.Cut(cell.Text, ".")
			got, err := strconv.ParseFloat(strings.ReplaceAll(cell.Text, "−", "-"), 64)
			near := math.Abs(got-values[c]) <= 0.5000001*math.Pow10(-len(decimals))+1e-5*math.Abs(values[c]) && !(math.Abs(got-values[c]) > 0.006*largest)
			plus := got >= 0 && slices.Contains([]string{"trim", "mixture_error"}, channel) && slices.Contains([]string{"mean", "min", "max", "p95"}, statistic)
			if err != nil || !near || strings.HasPrefix(cell.Text, "+") != plus {
				f.Fatalf("%s.%s of %v is shown as %q", channel, statistic, values[c], cell.Text)
			}
		}
	}
}

// inJSON is a value as documents write it.
func inJSON(v float64) []byte {
	text, _ := tables.Number(v).MarshalJSON()
	return text
}

func TestShownLaw(t *testing.T) { tabletest.Always(t, 500, lawShown) }

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
