package main

import (
	"slices"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

func average(in *input) {
	if !in.given("value") && in.text("axes") != "" && !in.yes("combine") {
		in.lookAtDrive()
		return
	}
	doc := in.cells()
	in.deliverCells(doc, func() *view.View { return must(view.Cells(doc, in.text("show"))) }, func() []string { return []string{view.Kept(doc)} })
}

// deliverCells delivers cell averages, with words about them where they go into a file.
func (in *input) deliverCells(doc *tables.Calibration, v func() *view.View, words func() []string) {
	in.deliver(result{view: v, pages: true, json: documentJSON(doc), write: func(out string, opt tablefile.Options) error {
		in.caution(words()...)
		return tablefile.Write(out, doc, opt)
	}})
}

// cells are those of the logs, or of the cell averages that are combined.
func (in *input) cells() *tables.Calibration {
	files := must(expand(in.args))
	if in.yes("combine") {
		return must(cells.CombineFiles(in.ctx, files, in.stdin))
	}
	names := in.list("value")
	refuse(slices.Contains(names, ""), "--value %s names a channel without a name", tables.Quote(strings.Join(in.many("value"), " ")))
	refuse(names == nil, "cells needs --value CHANNEL: calsplice channels LOG lists what there is")
	if in.given("delay") && !slices.ContainsFunc(names, sift.Delayed) {
		in.caution("--delay is for lambda and mixture_error: none of them is averaged, and nothing is delayed")
	}
	spec, logs := in.question(files)
	spec.Values = names
	limitMemory(streaming)
	g, notes, err := cells.Gather(in.ctx, logs, spec)
	in.caution(notes...)
	check(err)
	return must(g.Document())
}

// question reads the flags that say which axes and samples.
func (in *input) question(files []string) (spec cells.Spec, logs []cells.Log) {
	opt := in.logOptions()
	spec = cells.Spec{Where: in.text("where"), Let: opt.Let, TrimLimit: in.number("trim-limit"),
		Filters: must(in.filterOptions())}
	var err error
	if s := in.text("delay"); s != "" {
		spec.Delay, err = sift.ParseDelay(s)
		refuse(err != nil, "--%w", err)
	}
	if w := in.text("weight"); w != "" { // a command may have no such flag
		spec.Weight = must(cells.ParseWeight(w))
	}
	spec.X, spec.Y = in.cellsAxes(&opt)
	return spec, in.logs(files, opt)
}

// logs are drive logs. Of several, rows that two have in common are remembered.
func (in *input) logs(files []string, opt drivelog.Options) (logs []cells.Log) {
	if len(files) > 1 {
		in.overlaps = &drivelog.Overlaps{}
		opt.Overlaps = in.overlaps
	}
	for _, file := range files {
		logs = append(logs, cells.Log{Name: file, Open: func() (*drivelog.Log, error) { return drivelog.Open(file, in.stdin, opt) }})
	}
	return logs
}

// cellsAxes reads --axes, or --x and --y, and what the calibration knows that a
// log's values need.
func (in *input) cellsAxes(opt *drivelog.Options) (x, y *axes.Axis) {
	along := func(flag string) *axes.Axis {
		a, err := axes.Parse(in.text(flag))
		refuse(err != nil, "--%s: %w", flag, err)
		return a
	}
	if in.text("axes") != "" {
		refuse(in.text("x") != "" || in.text("y") != "", "--axes gives both axes: it goes without --x and --y")
		_, x, y = in.tableAxes(opt)
		return x, y
	}
	refuse(in.text("x") == "", "cells needs --axes CAL:TABLE, or --x 'CHANNEL: V,V,…'")
	if x = along("x"); in.text("y") != "" {
		y = along("y")
	}
	return x, y
}

// tableAxes reads --axes: a table, by default the one with role spark.advance, its
// axes, and what its calibration knows that a log's values need.
func (in *input) tableAxes(opt *drivelog.Options) (t *tables.Table, x, y *axes.Axis) {
	doc, t := in.tableAt(in.text("axes"), cells.SparkTable)
	file, _ := tablefile.SplitTable(in.text("axes"))
	opt.Engine, opt.EffectivePulse = doc.Engine(), sift.EffectivePulse(doc)
	x, y, err := axes.OfTable(doc, t.ID())
	within(file, err)
	return t, x, y
}
