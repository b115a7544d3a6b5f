package main

import (
	"fmt"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables/drivelog"

	"github.com/urfave/cli/v2"
)

func channels(c *cli.Context) error {
	limitMemory(streaming)
	in := reading(c)
	opt := in.logOptions()
	l := in.log(opt)
	if in.err != nil {
		return in.err
	}
	defer l.Close()
	sv, err := l.Survey(c.Context)
	if err != nil {
		return err
	}
	err = deliver(c, result{json: sv.WriteJSON, view: viewed(func() *view.View { return view.Survey(in.arg(0), sv) })})
	if err == nil && l.Err() == nil {
		err = keepReading(c, sv)
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

// keepReading saves how the log was read, or says how to where units were
// assumed.
func keepReading(c *cli.Context, sv *drivelog.Survey) error {
	if out := c.String("save"); out != "" {
		w, err := logWordsOf(c)
		if err != nil {
			return err
		}
		return w.save(c, out, sv)
	}
	if list := assumedUnits(sv); len(list) > 0 {
		printCautions(c, fmt.Sprintf("assumed: %s; --save PROFILE.json keeps that, to correct it and to read with --log-profile", unitList(list)))
	}
	return nil
}
