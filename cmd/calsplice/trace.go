package main

import (
	"fmt"
	"math"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/envelope"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func trace(in *input) {
	names := in.chosenChannels()
	in.needs("o")
	refuse(len(names) == 0, "trace needs --channel A,B,…: calsplice channels LOG lists what there is")
	from, to := in.numberOr("from", math.Inf(-1)), in.numberOr("to", math.Inf(1))
	log := in.log(in.logOptions())
	defer log.Close()
	drawn := newDrawing(names, in.number("above"))
	reading := must(log.Scan(in.ctx, drivelog.Query{Columns: names}, func(f *drivelog.Frame) error {
		drawn.add(f, from, to)
		return nil
	}))
	if drawn.trace.Envelope.Len() == 0 {
		check(&tables.Fault{File: log.Name(), What: fmt.Sprintf("0 of %d rows lie %s", reading.Rows, spanWords(from, to))})
	}
	in.printReading(log.Name(), reading)
	drawn.trace.Log = log.Name()
	in.deliver(result{page: drawn.trace.View, charts: drawn.trace.Charts()})
}

// spanWords says which part of a log's clock was asked for.
func spanWords(from, to float64) string {
	first, last := tables.FormatValue(from), tables.FormatValue(to)
	switch {
	case math.IsInf(from, -1) && math.IsInf(to, 1):
		return "anywhere on the log's clock"
	case math.IsInf(to, 1):
		return "from " + first + " s on"
	case math.IsInf(from, -1):
		return "up to " + last + " s"
	}
	return "between " + first + " s and " + last + " s"
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
