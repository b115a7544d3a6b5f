package main

import (
	"calsplice/cmd/calsplice/view"
	"calsplice/tables/drivelog"

	"github.com/urfave/cli/v2"
)

func channelsCommand() *cli.Command {
	return &cli.Command{
		Name:      "channels",
		Usage:     "list the channels of a drive log, and its faults",
		ArgsUsage: "LOG",
		Description: `Shows how a drive log is written, which column is read as which channel and
why, what stands in each, and every defect with its lines. LOG may be
compressed by gzip or zstd; - is standard input. The status is 1 where the log
has faults.

   calsplice channels drive.csv
   calsplice channels drive.csv --channel 'battery=Terminal 30' --json`,
		Flags:  append([]cli.Flag{jsonFlag(), colorFlag()}, logFlags()...),
		Action: channels,
	}
}

func channels(c *cli.Context) error {
	if err := wantArgs(c, 1, 1); err != nil {
		return err
	}
	opt, err := logOptions(c)
	if err != nil {
		return err
	}
	frugal()
	l, err := drivelog.Open(c.Args().First(), c.App.Reader, opt)
	if err != nil {
		return err
	}
	defer l.Close()
	sv, err := l.Survey(c.Context)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		err = sv.WriteJSON(c.App.Writer)
	} else {
		err = printView(c, view.Survey(c.Args().First(), sv))
	}
	switch {
	case err != nil:
		return err
	case l.Err() != nil: // what there is was shown, to map a column by; but the log cannot be read so
		return l.Err()
	case len(sv.Faults) > 0:
		return errReport
	}
	return nil
}
