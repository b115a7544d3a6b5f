package sift

import (
	"cmp"
	"slices"

	"calsplice/tables/drivelog"
)

// EventSummary says of a drive's events how many, how long and where.
type EventSummary struct {
	Events, Lifts int
	Seconds, Peak float64
	Cells         []EventCell // worst first; none where the events have no cells
}

// EventCell is the events whose peak lies in one cell. Its peak leaves out
// events after a throttle lift, unless it has no others.
type EventCell struct {
	Cell          [2]int
	Events, Lifts int
	Seconds, Peak float64
}

// SummariseEvents counts events, in all and by cell. The worst cell has the most
// events under load; among equals, the longest.
func SummariseEvents(events []Event) EventSummary {
	var s EventSummary
	place := map[[2]int]int{}
	for _, e := range events {
		lift := e.AfterLift != nil && *e.AfterLift
		s.Events++
		s.Seconds += e.Duration
		s.Peak = max(s.Peak, e.Peak)
		if lift {
			s.Lifts++
		}
		if e.Cell == nil {
			continue
		}
		k, ok := place[*e.Cell]
		if !ok {
			k = len(s.Cells)
			place[*e.Cell] = k
			s.Cells = append(s.Cells, EventCell{Cell: *e.Cell})
		}
		s.Cells[k].add(e, lift)
	}
	slices.SortStableFunc(s.Cells, func(a, b EventCell) int {
		return cmp.Or(cmp.Compare(b.Events-b.Lifts, a.Events-a.Lifts), cmp.Compare(b.Seconds, a.Seconds),
			slices.Compare(a.Cell[:], b.Cell[:]))
	})
	return s
}

func (c *EventCell) add(e Event, lift bool) {
	switch underLoad := c.Events > c.Lifts; {
	case !lift && !underLoad:
		c.Peak = e.Peak
	case lift == !underLoad:
		c.Peak = max(c.Peak, e.Peak)
	}
	c.Events++
	c.Seconds += e.Duration
	if lift {
		c.Lifts++
	}
}

// WithoutLifts are the events that do not follow a throttle lift.
func WithoutLifts(events []Event) []Event {
	return slices.DeleteFunc(events, func(e Event) bool { return e.AfterLift != nil && *e.AfterLift })
}

// EventContext lists the channels that may stand beside an event, with speed,
// load and throttle first: they say where the engine was.
func EventContext() []string {
	list := []string{"engine_speed", "load", "air_charge", "manifold_pressure", "throttle"}
	logged, _ := drivelog.Channels()
	for _, name := range logged {
		if !slices.Contains(list, name) {
			list = append(list, name)
		}
	}
	return list
}
