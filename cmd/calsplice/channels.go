package main

import (
	"fmt"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables/drivelog"
)

func channels(in *input) error {
	limitMemory(streaming)
	opt := in.logOptions()
	l := in.log(opt)
	if in.err != nil {
		return in.err
	}
	defer l.Close()
	sv, err := l.Survey(in.ctx)
	if err != nil {
		return err
	}
	err = in.deliver(result{json: asJSON(sv), view: viewed(func() *view.View { return view.Survey(in.arg(0), sv) })})
	if err == nil && l.Err() == nil {
		err = in.keepReading(sv)
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
func (in *input) keepReading(sv *drivelog.Survey) error {
	list := assumedUnits(sv)
	if out := in.text("save"); out != "" {
		return in.saveProfile(out, list)
	}
	if len(list) > 0 {
		in.caution(fmt.Sprintf("assumed: %s; --save PROFILE.json keeps that, to correct it and to read with --log-profile", unitList(list)))
	}
	return nil
}
