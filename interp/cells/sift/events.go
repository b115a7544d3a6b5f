package sift

import (
	"context"
	"math"

	"calsplice/interp/cells/axes"
	"calsplice/tables/drivelog"
)

// Event is a longest run of a channel's samples above a threshold.
type Event struct {
	Start    float64            `json:"start"` // seconds, of the run's first sample
	End      float64            `json:"end"`   // and of its last
	Duration float64            `json:"duration"`
	Peak     float64            `json:"peak"`
	At       map[string]float64 `json:"at"` // other channels as of the first sample with the peak
	// AfterLift is whether the event follows a throttle lift rather than load: the
	// throttle fell by ten points or more within the second before the start, has
	// not been opened again by ten points at the peak, and is under 60 % there.
	// Null where no throttle is logged.
	AfterLift *bool   `json:"after_lift"`
	Cell      *[2]int `json:"cell,omitempty"` // of the peak, where axes are given
	Line      int     `json:"line"`           // of the log, of the peak
}

// What counts as a throttle lift: a fall of so many % of throttle within so many
// seconds. A peak with the throttle reopened by as much, or this wide open, is
// knock under load.
const (
	liftPoints = 10
	liftTime   = 1
	wideOpen   = 60
)

// eventScan finds the events of one log.
type eventScan struct {
	above    float64
	names    []string // of the context, in the frame's columns from the first after the channel
	throttle int      // among the frame's columns; −1 where not logged
	along    [2]along // the axes y and x
	recent   track    // of the throttle
	lifted   bool     // the throttle fell before the open event
	lowest   float64  // throttle since the open event began
	stretch  int
	open     bool
	event    Event
	take     func(*Event)
}

// along is an axis of the cells that events are given.
type along struct {
	*axes.Ruler
	column int // of the frame; −1 where the axis is not asked for
}

// Events finds every longest run of samples strictly above a threshold. A run
// goes on while the channel is not read anew, and ends with a reading that is
// not above, with none for longer than the log's maximum age, and with the
// stretch. Axes, which may be nil, give each event its cell. take gets each event as it
// ends, which is valid only during the call: a long log has more than memory should hold.
func Events(ctx context.Context, log *drivelog.Log, channel string, above float64, x, y *axes.Axis, take func(*Event)) (*drivelog.Reading, error) {
	if err := log.Resolve(channel); err != nil {
		return nil, err
	}
	s := &eventScan{above: above, throttle: -1, event: Event{At: map[string]float64{}}, take: take}
	q := drivelog.Query{Columns: []string{channel}}
	logged, _ := drivelog.Channels()
	for _, name := range logged {
		if name == channel || name == "time" || !log.Has(name) {
			continue
		}
		s.names = append(s.names, name)
		if at := q.Ask(name); name == "throttle" {
			s.throttle = at
		}
	}
	for i, a := range []*axes.Axis{y, x} {
		ruler, err := axes.NewRuler(a, 1)
		if err != nil {
			return nil, err
		}
		s.along[i] = along{ruler, -1}
		if a != nil {
			s.along[i].column = q.Ask(a.Channel)
		}
	}
	reading, err := log.Scan(ctx, q, s.frame)
	if err != nil {
		return nil, err
	}
	s.end()
	return reading, nil
}

// frame takes the instants of a frame.
func (s *eventScan) frame(f *drivelog.Frame) error {
	for i := range f.N {
		if f.Stretch[i] != s.stretch {
			s.end()
			s.stretch = f.Stretch[i]
			s.recent.reset()
		}
		if s.throttle >= 0 {
			if v := f.Columns[s.throttle].Value[i]; v == v {
				s.recent.push(f.Time[i], v, liftTime)
				s.lowest = min(s.lowest, v)
			}
		}
		// A value that is held is no new sample: it neither begins an event nor ends one.
		switch v := f.Columns[0].Value[i]; {
		case v != v:
			s.end()
		case !f.Columns[0].Fresh[i]:
		case v > s.above:
			s.sample(f, i, v)
		default:
			s.end()
		}
	}
	return nil
}

// sample takes one sample above the threshold.
func (s *eventScan) sample(f *drivelog.Frame, i int, v float64) {
	e := &s.event
	// What led to the event is known now, at its first sample, and forgotten when it ends.
	if !s.open {
		s.open = true
		*e = Event{Start: f.Time[i], Peak: math.Inf(-1), At: e.At}
		s.lifted = s.recent.fall(f.Time[i]-liftTime) >= liftPoints-1e-9
		s.lowest = math.Inf(1)
		if s.throttle >= 0 {
			if v := f.Columns[s.throttle].Value[i]; v == v {
				s.lowest = v
			}
		}
	}
	e.End = f.Time[i]
	if v <= e.Peak {
		return
	}
	e.Peak, e.Line = v, f.Line[i]
	clear(e.At)
	if s.throttle >= 0 {
		// Without a reading at the peak nothing shows that the throttle stayed shut.
		open := f.Columns[s.throttle].Value[i]
		lift := s.lifted && open-s.lowest < liftPoints-1e-9 && open < wideOpen
		e.AfterLift = &lift
	}
	for k, name := range s.names {
		if c := f.Columns[1+k].Value[i]; c == c {
			e.At[name] = c
		}
	}
	e.Cell = s.cell(f, i)
}

// cell is where an instant stands among the cells; nil without cells or a reading of
// where it is.
func (s *eventScan) cell(f *drivelog.Frame, i int) *[2]int {
	if s.along[1].column < 0 {
		return nil
	}
	var cell [2]int
	for k, a := range s.along {
		if a.column < 0 {
			continue
		}
		v := f.Columns[a.column].Value[i]
		if v != v {
			return nil
		}
		cell[k] = int(a.Index(v))
	}
	return &cell
}

// end ends the open event, if there is one, and hands it over.
func (s *eventScan) end() {
	if s.open {
		s.open = false
		s.event.Duration = drivelog.Lasted(s.event.Start, s.event.End)
		s.take(&s.event)
	}
}

// fall is the furthest that the readings fell from some time on, counting the
// reading that stood at that time.
func (k *track) fall(since float64) float64 {
	most, high := 0.0, math.Inf(-1)
	for i, r := range k.list {
		if i+1 < len(k.list) && drivelog.Lasted(k.list[i+1].time, since) >= 0 {
			continue
		}
		high = max(high, r.value)
		most = max(most, high-r.value)
	}
	return most
}
