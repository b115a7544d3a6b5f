package drivelog

import (
	"context"
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
)

// Survey is what is in a log: every column, recognised or not, and every
// defect.
type Survey struct {
	Rows     int       // data rows; readings in the long form
	Channels []Channel // in the log's order
	Faults   []Fault
	How      []string // how the log is written, and why it is read so
	Said     []string // what is assumed
	Derived  []string // what can be computed from the channels
}

// Channel is one column of a log. Figures are in Unit: the channel's own where
// it is recognised, the log's otherwise.
type Channel struct {
	Name    string // "" where the column is not recognised
	Header  string // as the log has it, but for blanks around it
	shown   string // the same for people
	Unit    string
	Assumed bool   // the log gives no unit, the channel's own is assumed
	Why     string // why it is read as it is
	Count   int    // readings
	Missing int    // rows without one
	Min     float64
	Max     float64
	Mean    float64 // NaN, like Min and Max, where there is no reading
	Step    float64 // mean time between readings inside stretches, seconds; NaN where not known
	Longest float64 // longest time between two readings, seconds; 0 where there are none
}

// column of a survey while it is being added up.
type surveyed struct {
	stats
	at      float64 // time of the last reading
	stretch int
	steps   float64 // sum of times between readings
	n       int
	longest float64
	written bool // a cell of it is not empty
}

// Survey reads the whole log and sums up each column.
func (l *Log) Survey(ctx context.Context) (*Survey, error) {
	for _, c := range slices.Clone(l.open) {
		if err := l.sure(c); err != nil {
			return nil, err
		}
	}
	sv := &Survey{How: slices.Clone(l.why), Said: slices.Clone(l.said)}
	all := make([]surveyed, len(l.cols))
	for i := range all {
		all[i].at = math.NaN()
	}
	var t tally
	t.merge(&l.faults, 0)
	a := newAligner(0, l.opt.maxAge(), l.gapOver(), l.held, l.clock != nil && l.clock.clock.kind == clockOfDay, &t)
	var err error
	if l.long != nil {
		err = l.surveyLong(ctx, sv, all, a, &t)
	} else {
		err = l.surveyWide(ctx, sv, all, a, &t)
	}
	if err != nil {
		return nil, err
	}
	for _, k := range l.conflicts {
		t.note(twice, l.d.headerLine, "%s", k.text())
	}
	for i, c := range l.cols {
		if c.text == "" && c.index == len(l.d.header)-1 && l.long == nil && !all[i].written {
			continue // no column: a delimiter at the end of each line
		}
		sv.Channels = append(sv.Channels, c.summary(&all[i], sv.Rows, l.long != nil))
		if c.bad != "" && c.seen.two == 0 && (c.name != "" || c.channel == "time") && (c.name == "time" || c.channel != "time") {
			t.note(unitMisfit, l.d.headerLine, "column %s: %s", tables.Quote(c.text), c.bad)
		}
		if c.said != "" && c.name != "" {
			sv.Said = append(sv.Said, c.said)
		}
	}
	sv.Faults = t.list(l.gapOver())
	for _, c := range derivedChannels {
		if l.clockErr == nil && l.Resolve(c.name) == nil {
			sv.Derived = append(sv.Derived, c.name)
		}
	}
	return sv, nil
}

func (c *column) summary(s *surveyed, rows int, long bool) Channel {
	ch := Channel{Name: c.name, Header: c.raw, shown: c.text, Unit: c.unit(), Assumed: c.assumed, Why: c.why, Count: s.count,
		Missing: rows - s.count, Min: math.NaN(), Max: math.NaN(), Mean: s.mean(), Step: math.NaN(), Longest: s.longest}
	if long {
		ch.Missing = 0
	}
	if s.count > 0 {
		ch.Min, ch.Max = s.min, s.max
	}
	if s.n > 0 {
		ch.Step = s.steps / float64(s.n)
	}
	if c.why == "" {
		ch.Why = "not recognised"
	}
	if c.bad != "" {
		ch.Why = c.bad
	}
	return ch
}

func (s *surveyed) reading(v, t float64, stretch int) {
	s.add(v)
	if t == t {
		if step := t - s.at; step >= 0 {
			if s.stretch == stretch {
				s.steps += step
				s.n++
			}
			s.longest = max(s.longest, step)
		}
		s.at, s.stretch = t, stretch
	}
}

func (l *Log) surveyWide(ctx context.Context, sv *Survey, all []surveyed, a *aligner, t *tally) error {
	rp := l.rowParser(l.cols)
	timeSlot := slices.IndexFunc(rp.slots, func(s slot) bool { return s.col == l.clock })
	place := make([]int, len(rp.slots)) // of a slot's column among the log's
	for k, s := range rp.slots {
		place[k] = slices.Index(l.cols, s.col)
	}
	latest := make([]float64, len(l.cols))
	for i := range latest {
		latest[i] = noReading
	}
	return l.eachPiece(ctx, rp.parse, func(b *batch, line int) error {
		sv.Rows += b.n
		t.merge(&b.faults, line)
		times := make([]float64, b.n)
		stretches := make([]int, b.n)
		if timeSlot >= 0 {
			l.surveyClock(b, timeSlot, a, line, times, stretches)
		}
		for k, to := range place {
			for i, v := range b.vals[k] {
				if bits := math.Float64bits(v); bits != emptyBits && bits != noCellBits {
					all[to].written = true
				}
				if v != v && l.held && math.Float64bits(v) == emptyBits && k != timeSlot {
					v = latest[k]
				}
				if v == v {
					latest[k] = v
					when := noReading
					if timeSlot >= 0 {
						when = times[i]
					}
					all[to].reading(v, when, stretches[i])
				}
			}
		}
		return nil
	})
}

// surveyClock gives each row its time; the batch itself keeps rows without.
func (l *Log) surveyClock(b *batch, slot int, a *aligner, line int, times []float64, stretches []int) {
	timed := &batch{n: b.n, line: slices.Clone(b.line), vals: [][]float64{slices.Clone(b.vals[slot])}, full: []bool{b.full[slot]}}
	a.clock(timed, 0, line)
	j := 0
	for i, v := range b.vals[slot] {
		if times[i] = noReading; v == v {
			times[i], stretches[i] = a.time[j], a.stretchN[j]
			j++
		}
	}
}

func (l *Log) surveyLong(ctx context.Context, sv *Survey, all []surveyed, a *aligner, t *tally) error {
	wanted := make([]int, len(l.cols))
	for i := range wanted {
		wanted[i] = i
	}
	in := newInstants(0)
	give := func(events []event, base int, flush bool) {
		b := in.take(events, base, flush)
		n := in.complete()
		view := batch{n: n, line: slices.Clone(b.line[:n]), vals: [][]float64{b.vals[0][:n]}, full: []bool{true}}
		a.clock(&view, 0, 0)
	}
	err := l.eachPiece(ctx, l.longParser(wanted), func(b *batch, line int) error {
		sv.Rows += b.n
		t.merge(&b.faults, line)
		give(b.events, line, false)
		for _, e := range b.events {
			if e.channel >= 0 {
				all[e.channel].reading(e.value, e.time, 0)
			}
		}
		return nil
	})
	give(nil, 0, true)
	return err
}

// Err is why the log cannot be scanned, nil where it can.
func (l *Log) Err() error { return l.clockErr }

// How says in sentences how the log is written and read.
func (l *Log) How() []string { return slices.Clone(l.why) }

func (f Fault) String() string {
	lines := ""
	for i, n := range f.Lines {
		if i > 0 {
			lines += ", "
		}
		lines += fmt.Sprint(n)
	}
	if f.Count > len(f.Lines) {
		lines += " …"
	}
	return fmt.Sprintf("%d %s: %s (line %s)", f.Count, f.Kind, f.Text, lines)
}
