package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"calsplice/interp"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// unvisited is how much a loss counts where the drive was not, beside 1 where it
// was.
const unvisited = 0.1

// placed replaces axes by those that --points asks for, and says where their
// breakpoints stand.
func (in *input) placed(t *tables.Table, axes tables.Axes) (tables.Axes, []string) {
	points := in.points()
	var w interp.Weight
	if file := in.text("visited"); file != "" {
		refuse(len(points) == 0, "--visited is for --points")
		w = in.visitedWeight(file, t)
	}
	var notes []string
	for k, name := range []string{"x", "y"} {
		if n, ok := points[name]; ok {
			a, err := interp.Place(t, k, n, axes[1-k], w)
			refuse(err != nil, "--points: %w", err)
			axes[k] = a
			notes = append(notes, fmt.Sprintf("table %s: %s breakpoints placed at %s", t.ID(), name, axisList(a)))
		}
	}
	return axes, notes
}

func axisList(a *tables.Axis) string {
	words := make([]string, a.Len())
	for i, v := range a.Points() {
		words[i] = tables.FormatValue(v)
	}
	return strings.Join(words, ", ") + " " + a.Unit()
}

// points reads the values of --points.
func (in *input) points() map[string]int {
	points := map[string]int{}
	for _, s := range in.many("points") {
		name, number, _ := strings.Cut(s, "=")
		n, err := strconv.Atoi(number)
		_, twice := points[name]
		refuse(name != "x" && name != "y" || err != nil, "--points is %s, expected x=N or y=N", tables.Quote(s))
		refuse(twice || in.given(name), "--points %s: the axis is given twice", tables.Quote(s))
		points[name] = n
	}
	return points
}

// visitedWeight weighs a table's places by the cells of a drive: a place counts
// whole where the nearest cell has samples.
func (in *input) visitedWeight(file string, t *tables.Table) interp.Weight {
	doc := in.doc(file)
	at := slices.IndexFunc(doc.Tables(), func(n *tables.Table) bool { return strings.HasSuffix(n.ID(), ".count") })
	if doc.Kind() != tables.Cells || at < 0 {
		check(&tables.Fault{File: file, What: "has no counts of samples, expected cell averages as calsplice cells writes them"})
	}
	count := doc.Tables()[at]
	column, err := cellAlong(count.X(), t)
	within(file, err)
	row, err := cellAlong(count.Y(), t)
	within(file, err)
	return func(x, y float64) float64 {
		if count.At(row(x, y), column(x, y)) > 0 {
			return 1
		}
		return unvisited
	}
}

// cellAlong finds the cell nearest a place of a table along an axis of cells,
// which one of the table's axes must be; without an axis it is the only one.
func cellAlong(a *tables.Axis, t *tables.Table) (func(x, y float64) int, error) {
	if a == nil {
		return func(x, y float64) int { return 0 }, nil
	}
	k := t.Axes().Of(a.Quantity())
	if k < 0 {
		return nil, fmt.Errorf("the cells are along %s, which is no axis of table %s", tables.Quote(a.Quantity()), t.ID())
	}
	scale, err := unit.Find(t.Axes()[k].Unit(), a.Unit())
	if err != nil {
		return nil, fmt.Errorf("axis %s: %w", a.Quantity(), err)
	}
	return func(x, y float64) int { return lookup.Nearest(a.Points(), scale.Apply([]float64{x, y}[k])) }, nil
}
