package main

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/celltext"
	"calsplice/cmd/calsplice/report"
	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func eventsCommand() *cli.Command {
	return &cli.Command{
		Name:      "events",
		Usage:     "each event of a channel: when, how long, how much",
		ArgsUsage: "LOG",
		Description: `Lists each longest run of samples above a threshold, with what else was happening
at its peak. A blip just after the throttle was lifted is told apart. The exit
status is 1 where there are events, 0 where there are none.

   calsplice events drive.csv --above 1
   calsplice events drive.csv --channel coolant --above 105 --json`,
		Flags: append([]cli.Flag{
			&cli.Float64Flag{Name: "above", Usage: "threshold `V`, in the channel's own unit"},
			&cli.StringFlag{Name: "axes", Usage: "give each event its cell on the axes of `CAL:TABLE`"},
			outFlag("write a page or JSON to `FILE`: .html or .json"), jsonFlag(), colorFlag(),
		}, lookFlags("look at `CHANNEL` (default: knock_retard)")...),
		Action: events,
	}
}

func events(c *cli.Context) error {
	if err := wantArgs(c, 1, 1); err != nil {
		return err
	}
	channel := "knock_retard"
	switch names := chosenChannels(c); {
	case len(names) == 1:
		channel = names[0]
	case len(names) > 1:
		return fmt.Errorf("events looks at one channel, not %d", len(names))
	}
	if math.IsNaN(c.Float64("above")) {
		return fmt.Errorf("--above is NaN, want a threshold")
	}
	opt, err := logOptions(c)
	if err != nil {
		return err
	}
	var x, y *cells.Axis
	if c.String("axes") != "" {
		if x, y, err = cellsAxes(c, &opt); err != nil {
			return err
		}
	}
	log, err := drivelog.Open(c.Args().First(), c.App.Reader, opt)
	if err != nil {
		return err
	}
	defer log.Close()
	found, reading, err := cells.Events(c.Context, log, channel, c.Float64("above"), x, y)
	if err != nil {
		return err
	}
	tellReading(c, log.Name(), reading)
	if found == nil {
		found = []cells.Event{}
	}
	switch out := c.String("o"); extension(out) {
	case ".html":
		err = writePage(c, out, report.Events(log.Name(), channel, c.Float64("above"), reading.Rows, found))
	case ".json":
		err = writeJSON(c, out, map[string][]cells.Event{"events": found})
	case "":
		err = printEvents(c, channel, reading.Rows, found)
	default:
		err = fmt.Errorf("%s: events writes .html and .json", tables.Clean(out))
	}
	if err == nil && len(found) > 0 {
		err = errReport
	}
	return err
}

func printEvents(c *cli.Context, channel string, rows int, found []cells.Event) error {
	if c.Bool("json") {
		return celltext.JSON(c.App.Writer, map[string][]cells.Event{"events": found})
	}
	p, err := printer(c)
	if err != nil {
		return err
	}
	celltext.PrintEvents(p, channel, c.Float64("above"), rows, found)
	return nil
}
