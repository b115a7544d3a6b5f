package sift

import (
	"cmp"
	"slices"

	"calsplice/tables/drivelog"
)

// FollowsLift reports whether an event came just after a throttle lift; one of which
// nobody knows did not.
func (e *Event) FollowsLift() bool { return e.AfterLift != nil && *e.AfterLift }

// EventSummary says of a drive's events how many, how long and where.
type EventSummary struct {
	Events, Lifts int
	Seconds, Peak float64
	cells         map[[2]int]*EventCell // none where the events have no cells
}

// EventCell is the events whose peak lies in one cell. Its peak leaves out
// events after a throttle lift, unless it has no others.
type EventCell struct {
	Cell          [2]int
	Events, Lifts int
	Seconds, Peak float64
}

// Add counts an event, in all and by cell.
func (s *EventSummary) Add(e *Event) {
	s.Events++
	s.Seconds += e.Duration
	s.Peak = max(s.Peak, e.Peak)
	if e.FollowsLift() {
		s.Lifts++
	}
	if e.Cell == nil {
		return
	}
	if s.cells == nil {
		s.cells = map[[2]int]*EventCell{}
	}
	c := s.cells[*e.Cell]
	if c == nil {
		c = &EventCell{Cell: *e.Cell}
		s.cells[*e.Cell] = c
	}
	c.add(e)
}

// Cells are those with events, worst first: the worst has the most events under load;
// among equals, the longest.
func (s *EventSummary) Cells() []EventCell {
	var list []EventCell
	for _, c := range s.cells {
		list = append(list, *c)
	}
	slices.SortFunc(list, func(a, b EventCell) int {
		return cmp.Or(cmp.Compare(b.Events-b.Lifts, a.Events-a.Lifts), cmp.Compare(b.Seconds, a.Seconds),
			slices.Compare(a.Cell[:], b.Cell[:]))
	})
	return list
}

// add counts an event of the cell.
func (c *EventCell) add(e *Event) {
	lift := e.FollowsLift()
	// Until an event under load comes, the peaks after a lift are all there is to show.
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
