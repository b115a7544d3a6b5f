package main

import (
	"fmt"

	"calsplice/interp"
	"calsplice/tables"
)

func rescale(in *input) {
	in.needs("table", "o")
	in.onceStdout()
	method := interp.Method(in.text("method"))
	doc, t := in.namedTable()
	refuse(method == interp.Fit && in.given("points"), "--points places breakpoints for --method sample: a fit then moves values off them")
	axes, notes := in.newAxes(t)
	r, err := interp.Resample(t, axes, method, interp.Outside(in.text("outside")))
	within(in.arg(0), err)
	r.Notes = append(notes, r.Notes...)
	in.deliverRescaled(must(withRescaled(doc, r)), t, r)
}

// withRescaled is the document with the rescaled table. The exact state of cells
// does not fit other breakpoints.
func withRescaled(doc *tables.Calibration, r *interp.Resampled) (*tables.Calibration, error) {
	doc, err := doc.WithTable(r.Table)
	if err != nil || len(doc.Contents().State) == 0 {
		return doc, err
	}
	r.Notes = append(r.Notes, "the exact state of the cells does not fit other breakpoints and is left out: they can be shown, but no longer combined")
	contents := doc.Contents()
	contents.State = nil
	return tables.NewCalibration(contents)
}

// newAxes are the axes that the flags ask for; an axis that they do not name
// stays.
func (in *input) newAxes(t *tables.Table) (axes tables.Axes, notes []string) {
	asked := in.given("x") || in.given("y") || in.given("points")
	if like := in.text("like"); like != "" {
		refuse(asked, "--like gives the axes already: leave out --x, --y and --points, or --like")
		_, other := in.tableAt(like, func(*tables.Calibration) (string, error) { return t.ID(), nil })
		axes, notes, err := interp.Like(t, other)
		check(err)
		return axes, notes
	}
	refuse(!asked, "rescale needs --x, --y, --points or --like")
	return in.placed(t, tables.Axes{in.axis("x", t, t.X()), in.axis("y", t, t.Y())})
}

// axis is an axis with the breakpoints of a flag.
func (in *input) axis(name string, t *tables.Table, own *tables.Axis) *tables.Axis {
	if !in.given(name) {
		return own
	}
	refuse(own == nil, "--%s: table %s has no %s axis", name, t.ID(), name)
	var points []float64
	for _, word := range commaWords(in.text(name)) {
		v, err := tables.ParseValue(word)
		refuse(err != nil, "--%s: %w", name, err)
		points = append(points, v)
	}
	a, err := own.WithPoints(points)
	refuse(err != nil, "--%s: %w", name, err)
	// Most often they are in another unit; the whole table would be one edge value.
	if low, high := own.At(0), own.At(own.Len()-1); low < high && (a.At(a.Len()-1) < low || a.At(0) > high) {
		in.caution(fmt.Sprintf("--%s: no breakpoint lies on the old axis, %s to %s %s: are they in that unit?", name, tables.FormatValue(low), tables.FormatValue(high), own.Unit()))
	}
	return a
}
