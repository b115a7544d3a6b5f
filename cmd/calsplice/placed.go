package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// unvisited is how much a loss counts where the drive was not, beside 1 where it
// was.
const unvisited = 0.1

// placed replaces axes by those that --points asks for, and says where their
// breakpoints stand.
func placed(c *cli.Context, t *tables.Table, x, y *tables.Axis) (nx, ny *tables.Axis, notes []string, err error) {
	points, err := pointsFlag(c)
	if err != nil {
		return nil, nil, nil, err
	}
	var w interp.Weight
	if file := c.String("visited"); file != "" {
		if len(points) == 0 {
			return nil, nil, nil, errors.New("--visited is for --points")
		}
		if w, err = visitedWeight(c, file, t); err != nil {
			return nil, nil, nil, err
		}
	}
	for _, p := range []struct {
		name  string
		axis  **tables.Axis
		other **tables.Axis
	}{{"x", &x, &y}, {"y", &y, &x}} {
		n, ok := points[p.name]
		if !ok {
			continue
		}
		if *p.axis, err = interp.Place(t, p.name == "x", n, *p.other, w); err != nil {
			return nil, nil, nil, fmt.Errorf("--points: %w", err)
		}
		notes = append(notes, fmt.Sprintf("table %s: %s breakpoints placed at %s", t.ID(), p.name, axisList(*p.axis)))
	}
	return x, y, notes, nil
}

func axisList(a *tables.Axis) string {
	words := make([]string, a.Len())
	for i, v := range a.Points() {
		words[i] = tables.FormatValue(v)
	}
	return strings.Join(words, ", ") + " " + a.Unit()
}

// pointsFlag reads the values of --points.
func pointsFlag(c *cli.Context) (map[string]int, error) {
	points := map[string]int{}
	for _, s := range many(c, "points") {
		name, number, _ := strings.Cut(s, "=")
		n, err := strconv.Atoi(number)
		_, twice := points[name]
		switch {
		case name != "x" && name != "y" || err != nil:
			return nil, fmt.Errorf("--points is %s, want x=N or y=N", tables.Quote(s))
		case twice || c.IsSet(name):
			return nil, fmt.Errorf("--points %s: the axis is given twice", tables.Quote(s))
		}
		points[name] = n
	}
	return points, nil
}

// visitedWeight weighs a table's places by the cells of a drive: a place counts
// whole where the nearest cell has samples.
func visitedWeight(c *cli.Context, file string, t *tables.Table) (interp.Weight, error) {
	doc, err := readDoc(c, file)
	if err != nil {
		return nil, err
	}
	var count *tables.Table
	for _, n := range doc.Tables() {
		if doc.Kind() == tables.Cells && strings.HasSuffix(n.ID(), ".count") {
			count = n
			break
		}
	}
	if count == nil {
		return nil, &tables.Fault{File: file, What: "has no counts of samples, want cell averages as calsplice cells writes them"}
	}
	var column, row func(x, y float64) int
	if column, err = cellAlong(count.X(), t); err == nil {
		row, err = cellAlong(count.Y(), t)
	}
	if err != nil {
		return nil, tables.In(file, 0, 0, "", err)
	}
	return func(x, y float64) float64 { return counted(count, row(x, y), column(x, y)) }, nil
}

func counted(count *tables.Table, row, column int) float64 {
	if count.At(row, column) > 0 {
		return 1
	}
	return unvisited
}

// cellAlong finds the cell nearest a place of a table along an axis of cells,
// which one of the table's axes must be; without an axis it is the only one.
func cellAlong(a *tables.Axis, t *tables.Table) (func(x, y float64) int, error) {
	if a == nil {
		return func(x, y float64) int { return 0 }, nil
	}
	for k, own := range []*tables.Axis{t.X(), t.Y()} {
		if own == nil || own.Quantity() != a.Quantity() {
			continue
		}
		scale := unit.Conversion{Mul: 1, Div: 1}
		if own.Unit() != a.Unit() {
			var err error
			if scale, err = unit.Find(own.Unit(), a.Unit()); err != nil {
				return nil, fmt.Errorf("axis %s: %w", a.Quantity(), err)
			}
		}
		return func(x, y float64) int { return nearestCell(a.Points(), scale.Apply([]float64{x, y}[k])) }, nil
	}
	return nil, fmt.Errorf("the cells are along %s, which is no axis of table %s", tables.Quote(a.Quantity()), t.ID())
}

func nearestCell(points []float64, v float64) int {
	best := 0
	for i, p := range points {
		if math.Abs(p-v) <= math.Abs(points[best]-v) {
			best = i
		}
	}
	return best
}
