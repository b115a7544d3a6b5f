package view

import (
	"fmt"

	"calsplice/interp/envelope"
	"calsplice/tables"
)

// Trace is channels of a drive log over time, one below the other, each with the
// extremes of every stretch of time.
type Trace struct {
	Log      string
	Rows     int // of the log
	Channels []TraceChannel
	Envelope *envelope.Envelope // a series a channel
	Above    float64            // the knock retard above which time is marked
	Marked   []Span
}

// TraceChannel names one channel of a trace.
type TraceChannel struct{ Name, Unit string }

// Span is a stretch of time in seconds.
type Span struct{ Start, End float64 }

// Charts is the trace as a picture.
func (t *Trace) Charts() []Chart { return []Chart{{Title: "Trace of " + t.Log, Trace: t}} }

// View is the trace with the range of each channel.
func (t *Trace) View() *View {
	e := t.Envelope
	lead := words{fmt.Sprintf("%s rows, %s minutes, drawn in stretches of %s s.", tables.Thousands(t.Rows), tables.Fixed(float64(e.Len())*e.Width()/60, 1), tables.Shown(e.Width()))}
	lead.when(len(t.Marked) > 0, "%d stretches of knock retard above %s° are marked.", len(t.Marked), tables.Shown(t.Above))
	rows := NewRows("Channel", "Unit", "#Smallest", "#Largest")
	rows.Caption = "Range of each channel"
	for i, ch := range t.Channels {
		least, largest := e.Series(i)
		low, high := tables.Range(least, largest)
		rows.Line(ch.Name, ch.Unit, four(low), four(high))
	}
	return &View{Title: "Trace of " + t.Log, Kind: "Drive log over time", Lead: lead,
		Parts: []Part{{Charts: t.Charts()}, {Heading: "Channels", Rows: rows}}}
}
