package main

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/tables/drivelog"
)

func eventsCommand() *cli.Command {
	return &cli.Command{
		Name:      "events",
		Usage:     "list each event of a channel, such as knock",
		ArgsUsage: "LOG",
		Flags: append([]cli.Flag{
			numberFlag(&cli.Float64Flag{Name: "above", Usage: "`V`: the threshold, in the channel's own unit"}, "a threshold", func(v float64) bool { return !math.IsNaN(v) }),
			&cli.StringFlag{Name: "axes", Usage: "`CAL[:TABLE]`: give each event its cell on this table's axes (default: the spark table)"},
			&cli.BoolFlag{Name: "no-lifts", Usage: "leave out events after a throttle lift"},
			resultFlag("the result"), jsonFlag(), colorFlag(),
		}, lookFlags("`CHANNEL`: the one to look at (default: knock_retard)")...),
		Action: events,
	}
}

func events(c *cli.Context) error {
	channel := "knock_retard"
	switch names := chosenChannels(c); {
	case len(names) == 1:
		channel = names[0]
	case len(names) > 1:
		return fmt.Errorf("events looks at one channel, not %d", len(names))
	}
	opt, err := logOptions(c)
	if err != nil {
		return err
	}
	x, y, place, err := eventAxes(c, &opt)
	if err != nil {
		return err
	}
	log, err := drivelog.Open(c.Args().First(), c.App.Reader, opt)
	if err != nil {
		return err
	}
	defer log.Close()
	found, reading, err := sift.Events(c.Context, log, channel, c.Float64("above"), x, y)
	if err != nil {
		return err
	}
	printReading(c, log.Name(), reading)
	if c.Bool("no-lifts") {
		found = sift.WithoutLifts(found)
	}
	if found == nil {
		found = []sift.Event{}
	}
	return deliver(c, result{
		view: viewed(func() *view.View {
			return view.Events(&view.EventReport{Log: log.Name(), Channel: channel, Above: c.Float64("above"), Rows: reading.Rows, Events: found, Place: place})
		}),
		json:  asJSON(map[string][]sift.Event{"events": found}),
		found: len(found) > 0,
	})
}

// eventAxes reads --axes. place says in words where one of their cells is.
func eventAxes(c *cli.Context, opt *drivelog.Options) (x, y *axes.Axis, place func([2]int) string, err error) {
	if c.String("axes") == "" {
		return nil, nil, nil, nil
	}
	t, x, y, err := tableAxes(c, opt)
	return x, y, func(at [2]int) string {
		return t.Where(at[0]*t.Columns()+at[1]) + fmt.Sprintf(" [%d, %d]", at[0], at[1])
	}, err
}
