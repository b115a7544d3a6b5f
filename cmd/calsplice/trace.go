package main

import (
	"fmt"
	"math"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/envelope"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func trace(in *input) {
	names := in.chosenChannels()
	in.needs("o")
	refuse(len(names) == 0, "trace needs --channel A,B,…: calsplice channels LOG lists what there is")
	log := in.log(in.logOptions())
	defer log.Close()
	from, to := in.clockTime("from", log, math.Inf(-1)), in.clockTime("to", log, math.Inf(1))
	drawn := newDrawing(names, in.number("above"))
	byDay := strings.Contains(in.text("from")+in.text("to"), ":")
	reading := must(log.Scan(in.ctx, drivelog.Query{Columns: names}, func(f *drivelog.Frame) error {
		if byDay && !log.Clock().OneDay(f.Time[f.N-1]) {
			return &tables.Fault{File: log.Name(), Line: f.Line[f.N-1], What: "the log lasts 18 hours or more, so a time of day may be of either day: give --from and --to in seconds of its clock"}
		}
		drawn.add(f, from, to)
		return nil
	}))
	if drawn.trace.Envelope.Len() == 0 {
		check(&tables.Fault{File: log.Name(), What: fmt.Sprintf("0 of %d rows lie %s", reading.Rows, spanWords(log.Clock(), from, to))})
	}
	in.printReading(log.Name(), reading)
	drawn.trace.Log, drawn.trace.Clock = log.Name(), log.Clock()
	in.deliver(result{page: drawn.trace.View, charts: drawn.trace.Charts()})
}

// clockTime is the value of a flag that is a time of the log, or what stands for one that is
// not given.
func (in *input) clockTime(flag string, log *drivelog.Log, otherwise float64) float64 {
	if !in.given(flag) {
		return otherwise
	}
	t, err := log.Clock().Read(in.text(flag))
	refuse(err != nil, "--%s %v", flag, err)
	return t
}

// spanWords says which part of a log's clock was asked for.
func spanWords(clock drivelog.Clock, from, to float64) string {
	switch {
	case math.IsInf(from, -1) && math.IsInf(to, 1):
		return "anywhere on the log's clock"
	case math.IsInf(to, 1):
		return "from " + clock.Text(from) + " on"
	case math.IsInf(from, -1):
		return "up to " + clock.Text(to)
	}
	return "between " + clock.Text(from) + " and " + clock.Text(to)
}

// drawing gathers a log into a trace.
type drawing struct {
	trace   *view.Trace
	values  []float64
	shift   float64 // added to the log's clock, so that a restart goes on behind
	last    float64
	stretch int // of the log, that the last row is in
}

func newDrawing(names []string, above float64) *drawing {
	// A page stays small whatever the number of channels.
	stretches := max(min(2000, 14000/len(names)), 200)
	d := &drawing{trace: &view.Trace{Envelope: envelope.New(len(names), stretches), Above: above}, values: make([]float64, len(names)), last: math.Inf(-1), stretch: -1}
	for _, n := range names {
		d.trace.Channels = append(d.trace.Channels, view.TraceChannel{Name: n, Unit: drivelog.ChannelUnit(n)})
	}
	return d
}

func (d *drawing) add(f *drivelog.Frame, from, to float64) {
	for i := range f.N {
		t := f.Time[i]
		if math.IsNaN(t) || t < from || t > to {
			continue
		}
		if t+d.shift < d.last {
			d.shift = d.last - t // the clock stepped back: go on where the picture stands
		}
		// What a row says holds until the next: a picture may have more stretches than rows.
		e, t := d.trace.Envelope, t+d.shift
		for d.last += e.Width(); f.Stretch[i] == d.stretch && d.last < t; d.last += e.Width() {
			e.Add(d.last, d.values)
		}
		d.last, d.stretch = t, f.Stretch[i]
		for k, col := range f.Columns {
			d.values[k] = col.Value[i]
		}
		e.Add(t, d.values)
		d.trace.Rows++
	}
}
