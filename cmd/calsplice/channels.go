package main

import (
	"fmt"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables/drivelog"
)

func channels(in *input) {
	limitMemory(streaming)
	l := in.log(in.logOptions())
	defer l.Close()
	sv := must(l.Survey(in.ctx))
	in.deliver(result{found: len(sv.Faults) > 0, json: asJSON(sv), view: func() *view.View { return view.Survey(in.arg(0), sv) }})
	check(l.Err()) // what there is was shown, to map a column by; but the log cannot be read so
	in.keepReading(sv)
}

// keepReading saves how the log was read, or says how to where units were
// assumed.
func (in *input) keepReading(sv *drivelog.Survey) {
	list := assumedUnits(sv)
	if out := in.text("save"); out != "" {
		in.saveProfile(out, list)
	} else if len(list) > 0 {
		in.caution(fmt.Sprintf("assumed: %s; --save PROFILE.json keeps that, to correct it and to read with --log-profile", unitList(list)))
	}
}
