package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/merge/cause"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// railFlag is a gauge's reading for explain and propose fuel.
func railFlag() cli.Flag {
	return &cli.Float64Flag{Name: "rail-pressure", Usage: "`KPA`: what a gauge at the rail reads, relative to what the calibration's rail_pressure is relative to", DefaultText: "the log's, else the calibration's"}
}

func explainCommand() *cli.Command {
	return &cli.Command{
		Name:      "explain",
		Usage:     "which cause fits the fuel trims of a drive",
		ArgsUsage: "CAL LOG...",
		Description: "Fits each candidate cause to the settled closed-loop fuel trims of drive logs and\n" +
			"ranks them by how much of the trim each explains in parts of the drive that its\n" +
			"fit has not seen. A fault is repaired, not calibrated away: look here before any\n" +
			"table is touched. Status 0 where the trims need no cause, 1 otherwise.\n\n" +
			"Example:\n  calsplice explain found.json drive.csv",
		Flags: append([]cli.Flag{outFlag("`FILE`: the result: .html or .json"), jsonFlag(), colorFlag(), railFlag()}, logFlags()...),
		Action: func(c *cli.Context) error {
			if err := wantArgs(c, 2, -1); err != nil {
				return err
			}
			cal, err := readDoc(c, c.Args().First())
			if err != nil {
				return err
			}
			opt, err := logOptions(c)
			if err != nil {
				return err
			}
			opt.Engine = cal.Engine()
			names, err := expand(c.Args().Tail())
			if err != nil {
				return err
			}
			watchOverlaps(c, &opt, names)
			var logs []cells.Log
			for _, name := range names {
				logs = append(logs, cells.Log{Name: name, Open: func() (*drivelog.Log, error) {
					return drivelog.Open(name, c.App.Reader, opt)
				}})
			}
			res, err := cause.Explain(c.Context, cal, logs, cause.Options{RailPressure: c.Float64("rail-pressure")})
			if err != nil {
				return err
			}
			out := c.String("o")
			switch extension(out) {
			case ".html":
				err = writePage(c, out, view.Causes(cal.Name(), res))
			case ".json":
				err = writeJSON(c, out, res)
			case "":
				if c.Bool("json") {
					err = writeJSON(c, "-", res)
				} else {
					err = printView(c, view.Causes(cal.Name(), res))
				}
			default:
				err = fmt.Errorf("%s: explain writes .html and .json", tables.Clean(out))
			}
			if err == nil && !(res.Leading().Cause == cause.None && res.Certain) {
				err = errReport
			}
			return err
		},
	}
}
