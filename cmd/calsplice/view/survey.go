package view

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"calsplice/interp/envelope"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Survey is what is in a drive log: how it is written, each column with its
// figures, what can be computed, what is assumed, and every fault.
func Survey(log string, s *drivelog.Survey) *View {
	v := &View{Title: "Channels of " + log, Kind: "Drive log"}
	v.Lead = append([]string{fmt.Sprintf("%s: %s rows", log, tables.Thousands(s.Rows))}, s.How...)
	found, others := surveyRows(), surveyRows()
	for i := range s.Channels {
		if c := &s.Channels[i]; c.Name != "" {
			found.Line(surveyLine(c, c.Name, origin(c))...)
		} else {
			others.Line(unrecognised(c)...)
		}
	}
	v.Parts = []Part{{Rows: found}}
	v.add(Part{Heading: "not recognised (--channel NAME=HEADER makes one a channel)", Rows: others})
	notes := Part{}
	notes.fact("also computed", strings.Join(s.Derived, ", "))
	for _, t := range s.Notes {
		notes.fact("note", t)
	}
	faults := Part{Heading: "faults"}
	for _, f := range s.Faults {
		faults.Items = append(faults.Items, Item{Text: f.String()})
	}
	if v.add(notes, faults); faults.Items == nil {
		v.Last = []string{"no faults"}
	}
	return v
}

func surveyRows() *Rows {
	return NewRows("channel", "unit", "#count", "#missing", "#min", "#max", "#mean", "from")
}

func surveyLine(c *drivelog.Channel, name, from string) []string {
	return []string{name, c.Unit, strconv.Itoa(c.Count), strconv.Itoa(c.Missing), figure(float64(c.Min)), figure(float64(c.Max)), figure(float64(c.Mean)), from}
}

// origin says which column a channel is read from, how often, and why.
func origin(c *drivelog.Channel) string {
	from := tables.Quote(c.Shown)
	if c.Step == c.Step {
		from += fmt.Sprintf(", every %s s, longest gap %s s", tables.Digits(c.Step, 5), tables.Digits(c.Longest, 5))
	}
	if c.Assumed {
		from += ", unit assumed"
	}
	if c.Why != "its header says so" {
		from += "; " + c.Why
	}
	return from
}

// unrecognised is the line of a column that is no channel; a header that is too
// long for its place stands whole behind the figures.
func unrecognised(c *drivelog.Channel) []string {
	const place = 28
	name, why := c.Shown, ""
	if c.Why != "not recognised" {
		why = c.Why
	}
	if utf8.RuneCountInString(name) > place {
		why = strings.TrimSuffix(tables.Quote(name)+"; "+why, "; ")
		name = string([]rune(name)[:place-1]) + "…"
	}
	return surveyLine(c, name, why)
}

// figure is a value with three decimals at most, or four digits where that is
// shorter; "" where there is none.
func figure(v float64) string {
	if v != v {
		return ""
	}
	s := strings.TrimRight(strings.TrimRight(tables.Fixed(v, 3), "0"), ".")
	if utf8.RuneCountInString(s) > 9 {
		return tables.Digits(v, 4)
	}
	return s
}

// Trace is channels of a drive log over time, one below the other, each with the
// extremes of every stretch of time.
type Trace struct {
	Log      string
	Clock    drivelog.Clock // the log's
	Rows     int            // that are drawn
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
