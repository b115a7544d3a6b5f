package view

import (
	"fmt"
	"slices"

	"calsplice/interp/envelope"
	"calsplice/tables"
)

// Trace is channels of a drive log over time, one below the other, each with the
// extremes of every stretch of time.
type Trace struct {
	Log      string
	Rows     int // that are drawn
	Channels []TraceChannel
	Envelope *envelope.Envelope // a series a channel
	Above    float64            // the knock retard above which time is marked
}

// TraceChannel names one channel of a trace.
type TraceChannel struct{ Name, Unit string }

// Span is a stretch of time in seconds.
type Span struct{ Start, End float64 }

// Marked is the time with more knock retard, as far as that is drawn.
func (t *Trace) Marked() (list []Span) {
	i := slices.IndexFunc(t.Channels, func(c TraceChannel) bool { return c.Name == knockRetard })
	if i < 0 {
		return nil
	}
	e, inside := t.Envelope, false
	_, largest := e.Series(i)
	for k, v := range largest {
		stretch := Span{e.Start() + float64(float64(k)*e.Width()), e.Start() + float64(float64(k+1)*e.Width())}
		switch loud := v > t.Above; {
		case !loud:
			inside = false
		case inside:
			list[len(list)-1].End = stretch.End
		default:
			list, inside = append(list, stretch), true
		}
	}
	return list
}

// Charts is the trace as a picture.
func (t *Trace) Charts() []Chart { return []Chart{{Title: "Trace of " + t.Log, Trace: t}} }

// View is the trace with the range of each channel.
func (t *Trace) View() *View {
	e := t.Envelope
	lasts := tables.Digits(float64(e.Len())*e.Width(), 2) + " s"
	if minutes := float64(e.Len()) * e.Width() / 60; minutes >= 2 {
		lasts = tables.Fixed(minutes, 1) + " minutes"
	}
	lead := words{fmt.Sprintf("%s rows, %s, drawn in stretches of %s s.", tables.Thousands(t.Rows), lasts, tables.Digits(e.Width(), 2))}
	marked := t.Marked()
	lead.when(len(marked) > 0, "%s of knock retard above %s° marked.", tables.Plural(len(marked), "stretch", "stretches"), tables.Shown(t.Above))
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
