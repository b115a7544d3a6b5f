package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

func cellsCommand() *cli.Command {
	return &cli.Command{
		Name:      "cells",
		Usage:     "average drive logs by cell",
		ArgsUsage: "LOG...",
		Flags: append([]cli.Flag{
			manyFlag("value", "`CHANNEL[,…]`: what to average; may be repeated"),
			&cli.StringFlag{Name: "axes", Usage: "`CAL[:TABLE]`: a table whose axes to use (default: the one with role spark.advance)"},
			&cli.StringFlag{Name: "x", Usage: "`'CHANNEL [UNIT]: V,V,…'`: breakpoints of the columns"},
			&cli.StringFlag{Name: "y", Usage: "`'CHANNEL [UNIT]: V,V,…'`: breakpoints of the rows"},
			&cli.StringFlag{Name: "where", Usage: "`EXPRESSION`: use only samples for which it is true, such as 'coolant >= 70 && gear == 3'"},
			&cli.BoolFlag{Name: "combine", Usage: "join cell averages"},
			&cli.BoolFlag{Name: "surface", Usage: "also fit a smooth surface to all samples, with its errors"},
			&cli.StringFlag{Name: "show", Value: "mean", Usage: "`STATISTIC`: the one to print: " + strings.Join(tally.Statistics, ", ") + ", interval, surface or surface_se"},
			outFlag("`FILE`: the cells: .json .csv .xlsx, or a page: .html"), formatFlag(), jsonFlag(), colorFlag(),
		}, append(filterFlags(), logFlags()...)...),
		Action: func(c *cli.Context) error {
			if len(many(c, "value")) == 0 && c.String("axes") != "" && !c.Bool("combine") {
				return lookAtDrive(c)
			}
			doc, err := cellsOf(c)
			if err != nil {
				return err
			}
			return deliverCells(c, doc)
		},
	}
}

func cellsOf(c *cli.Context) (*tables.Calibration, error) {
	files, err := expand(c.Args().Slice())
	if err != nil {
		return nil, err
	}
	if c.Bool("combine") {
		return cells.CombineFiles(c.Context, files, c.App.Reader)
	}
	names, err := namedChannels(c)
	if err != nil {
		return nil, err
	}
	spec, logs, err := cellsQuestion(c, files, false)
	if err != nil {
		return nil, err
	}
	spec.Values = names
	limitMemory(streaming)
	g, notes, err := cells.Gather(c.Context, logs, spec)
	printCautions(c, notes...)
	if err != nil {
		return nil, err
	}
	return g.Document()
}

// namedChannels are those of --value.
func namedChannels(c *cli.Context) (names []string, err error) {
	for _, v := range many(c, "value") {
		for name := range strings.SplitSeq(v, ",") {
			if name = strings.TrimSpace(name); name == "" {
				return nil, fmt.Errorf("--value %s names a channel without a name", tables.Quote(v))
			}
			names = append(names, name)
		}
	}
	if names == nil {
		return nil, fmt.Errorf("cells needs --value CHANNEL: calsplice channels LOG lists what there is")
	}
	return names, nil
}

// cellsQuestion reads the flags that say which axes and samples. The logs are
// read once, or several times.
func cellsQuestion(c *cli.Context, files []string, again bool) (spec cells.Spec, logs []cells.Log, err error) {
	opt, err := logOptions(c)
	if err != nil {
		return spec, nil, err
	}
	watchOverlaps(c, &opt, files)
	spec = cells.Spec{Where: c.String("where"), Let: opt.Let, TrimLimit: c.Float64("trim-limit"), Surface: c.Bool("surface")}
	if spec.Filters, err = filterOptions(c); err != nil {
		return spec, nil, err
	}
	if c.String("delay") != "" {
		if spec.Delay, err = sift.ParseDelay(c.String("delay")); err != nil {
			return spec, nil, fmt.Errorf("--%w", err)
		}
	}
	if w := c.String("weight"); w != "" { // a command may have no such flag
		if spec.Weight, err = cells.ParseWeight(w); err != nil {
			return spec, nil, err
		}
	}
	if spec.X, spec.Y, err = cellsAxes(c, &opt); err != nil {
		return spec, nil, err
	}
	for _, f := range files {
		log, err := namedLog(c, f, opt, again)
		if err != nil {
			return spec, nil, err
		}
		logs = append(logs, log)
	}
	return spec, logs, nil
}

// namedLog is a drive log by the name that cells keep. Standard input is read
// once, or kept to be read again.
func namedLog(c *cli.Context, file string, opt drivelog.Options, again bool) (cells.Log, error) {
	log := cells.Log{Name: filepath.Base(file), Open: func() (*drivelog.Log, error) { return drivelog.Open(file, c.App.Reader, opt) }}
	if file != "-" {
		return log, nil
	}
	if !again {
		log.Once = true
		return log, nil
	}
	data, err := io.ReadAll(c.App.Reader)
	log.Open = func() (*drivelog.Log, error) { return drivelog.Open(file, bytes.NewReader(data), opt) }
	return log, err
}

// cellsAxes reads --axes, or --x and --y, and what the calibration knows that a
// log's values need.
func cellsAxes(c *cli.Context, opt *drivelog.Options) (x, y *axes.Axis, err error) {
	if c.String("axes") != "" {
		if c.String("x") != "" || c.String("y") != "" {
			return nil, nil, fmt.Errorf("--axes gives both axes: it goes without --x and --y")
		}
		_, x, y, err := tableAxes(c, opt)
		return x, y, err
	}
	if c.String("x") == "" {
		return nil, nil, fmt.Errorf("cells needs --axes CAL:TABLE, or --x 'CHANNEL: V,V,…'")
	}
	if x, err = axes.Parse(c.String("x")); err != nil {
		return nil, nil, fmt.Errorf("--x: %w", err)
	}
	if s := c.String("y"); s != "" {
		if y, err = axes.Parse(s); err != nil {
			return nil, nil, fmt.Errorf("--y: %w", err)
		}
	}
	return x, y, nil
}

// tableAxes reads --axes: a table, by default the one with role spark.advance, its
// axes, and what its calibration knows that a log's values need.
func tableAxes(c *cli.Context, opt *drivelog.Options) (t *tables.Table, x, y *axes.Axis, err error) {
	doc, t, err := tableAt(c, c.String("axes"), cells.SparkTable)
	if err != nil {
		return nil, nil, nil, err
	}
	opt.Engine = doc.Engine()
	opt.Derived = sift.EffectivePulse(doc)
	if x, y, err = axes.OfTable(doc, t.ID()); err != nil {
		file, _ := tablefile.SplitTable(c.String("axes"))
		err = tables.In(file, 0, 0, "", err)
	}
	return t, x, y, err
}

func deliverCells(c *cli.Context, doc *tables.Calibration) error {
	return deliver(c, result{
		view: func() (*view.View, error) { return view.Cells(doc, c.String("show")) },
		json: documentJSON(doc),
		write: func(out string) error {
			printCautions(c, view.Kept(doc))
			return tablefile.Write(out, doc, outputOrPage(c))
		},
	})
}
