package view

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// How many events a terminal and a page list, and how many cells a terminal.
const (
	listedEvents  = 50
	printedEvents = 500
	listedCells   = 8
)

// EventReport is the events of one channel of a log: all of them as a summary, the
// first as they are. Table is the one that their cells are of; nil where they have
// none.
type EventReport struct {
	Log, Channel string
	Clock        drivelog.Clock // the log's
	Above        float64
	Rows         int
	Table        *tables.Table
	Throttle     bool // is logged: without it nobody knows which event follows a lift

	summary sift.EventSummary
	first   []sift.Event
}

// Add takes the next event, which stays the caller's.
func (h *EventReport) Add(e *sift.Event) {
	if h.summary.Add(e); len(h.first) < printedEvents {
		first := *e
		first.At = maps.Clone(e.At)
		h.first = append(h.first, first)
	}
}

// Found reports whether there is any event.
func (h *EventReport) Found() bool { return h.summary.Events > 0 }

// Events is a summary, by cell where there are cells, and then each event: when,
// how long, how much, and what else was happening at its peak.
func Events(h *EventReport) *View {
	unit, s := drivelog.ChannelUnit(h.Channel), &h.summary
	v := &View{Title: "Events of " + h.Channel + " in " + h.Log, Kind: "Drive log", Standing: true,
		Opening: []string{fmt.Sprintf("%s of %s above %s in %s rows", tables.Plural(s.Events, "event"), h.Channel, quantity(h.Above, unit), tables.Thousands(h.Rows))}}
	v.Verdict = sentence(v.Opening[0])
	if !h.Found() {
		return v
	}
	lifts := "no throttle is logged, so which follow a lift is not known"
	if h.Throttle {
		lifts = fmt.Sprintf("%d just after a throttle lift, %d not", s.Lifts, s.Events-s.Lifts)
	}
	v.Lead = append(v.Lead, fmt.Sprintf("together %s s, peak %s; %s", tables.Digits(s.Seconds, 4), quantity(s.Peak, unit), lifts))
	if cells := s.Cells(); cells != nil {
		v.add(byCell(h, cells, unit))
	} else if h.Table == nil {
		v.add(Part{Text: []string{"--axes CAL lists them by cell of its spark table"}, On: OnTerminals})
	}
	v.add(eventList(h, unit), eventTable(h, unit))
	return v
}

func byCell(h *EventReport, list []sift.EventCell, unit string) Part {
	rows := NewRows("Cell", "#Events", "#Lifts", "#Sum [s]", "#Peak ["+unit+"]")
	list, rows.More = first(list, listedCells, "and %s more cells")
	for _, c := range list {
		rows.Line(fmt.Sprintf("%s [%d, %d]", where(h.Table.X(), h.Table.Y(), c.Cell[0], c.Cell[1]), c.Cell[0], c.Cell[1]), strconv.Itoa(c.Events), strconv.Itoa(c.Lifts), four(c.Seconds), four(c.Peak))
	}
	return Part{Heading: "By cell, worst first", Rows: rows}
}

// eventList is the events in two or three lines each, for a terminal.
func eventList(h *EventReport, unit string) Part {
	p := Part{On: OnTerminals}
	list, _ := first(h.first, listedEvents, "")
	if more := h.summary.Events - len(list); more > 0 {
		p.Note = fmt.Sprintf("%d more events: --json lists all, -o FILE.html the first %d", more, printedEvents)
	}
	for i, e := range list {
		var s, at words
		s.when(true, "%d: %s (%s s), peak %s", i+1, h.Clock.Span(e.Start, e.End), seconds(e.Duration), quantity(e.Peak, unit))
		s.when(e.FollowsLift(), "after a lift")
		if e.Cell != nil {
			s.when(true, "cell [%d, %d]", e.Cell[0], e.Cell[1])
		}
		s.when(true, "line %d", e.Line)
		for _, name := range sift.EventContext() {
			v, ok := e.At[name]
			at.when(ok, "%s %s", strings.ReplaceAll(name, "_", " "), quantity(v, drivelog.ChannelUnit(name)))
		}
		p.Items = append(p.Items, Item{Text: strings.Join(s, ", "), Under: strings.Join(at, ", ")})
	}
	return p
}

// eventTable is the events as a table with a column a channel, for a page.
func eventTable(h *EventReport, unit string) Part {
	names := slices.DeleteFunc(sift.EventContext(), func(name string) bool {
		return !slices.ContainsFunc(h.first, func(e sift.Event) bool { _, ok := e.At[name]; return ok })
	})
	start, end, at := "Start [s]", "#End [s]", func(t float64) string { return tables.Fixed(t, 2) }
	if h.Clock.OfDay {
		start, end, at = "Start", "#End", h.Clock.Text
	}
	rows := NewRows(start, end, "#Lasts [s]", "#Peak ["+unit+"]", "After a lift")
	rows.Caption = "Each event, in the order of the drive"
	for _, n := range names {
		rows.column("#" + withUnit(n, drivelog.ChannelUnit(n)))
	}
	if n := h.summary.Events - len(h.first); n > 0 {
		rows.More = fmt.Sprintf("… and %d more.", n)
	}
	for _, e := range h.first {
		lift := "–"
		if e.AfterLift != nil {
			lift = map[bool]string{true: "yes", false: "no"}[*e.AfterLift]
		}
		line := []string{at(e.Start), at(e.End), tables.Fixed(e.Duration, 2), four(e.Peak), lift}
		for _, n := range names {
			v, ok := e.At[n]
			if !ok {
				v = math.NaN()
			}
			line = append(line, maybe(v, four))
		}
		rows.Line(line...)
	}
	return Part{Heading: "Events", Rows: rows, On: OnPages}
}

func seconds(v float64) string { return tables.Shown(math.Round(v*1000) / 1000) }

// quantity is a number to four figures, with its unit.
func quantity(v float64, unit string) string { return tables.Digits(v, 4) + blankUnit(unit) }
