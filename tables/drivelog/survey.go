package drivelog

import (
	"context"
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
	written bool    // a cell of it is not empty
	latest  float64 // reading, for cells that mean "as above"
}

// Survey reads the whole log and sums up each column.
func (l *Log) Survey(ctx context.Context) (*Survey, error) {
	for _, c := range slices.Clone(l.open) {
		if err := l.sure(c); err != nil {
			return nil, err
		}
	}
	s := &surveyor{l: l, held: l.held && l.long == nil, cols: l.cols, clock: slices.Index(l.cols, l.clock)}
	if l.long != nil {
		s.clock, s.cols = len(l.cols), append(slices.Clone(l.cols), l.clock)
	}
	s.all = make([]surveyed, len(s.cols))
	for i := range s.all {
		s.all[i].at, s.all[i].latest = math.NaN(), math.NaN()
	}
	s.tally.merge(&l.faults, 0)
	s.a = newAligner(0, l.alignment(), &s.tally)
	if err := l.eachBatch(ctx, s.cols, s.take); err != nil {
		return nil, err
	}
	return s.report(), nil
}

// surveyor is a survey under way.
type surveyor struct {
	l     *Log
	cols  []*column
	clock int // among them; −1 where there is none
	held  bool
	all   []surveyed
	a     *aligner
	tally tally
	rows  int
}

// take adds the rows of a batch or, in the long form, each of its readings.
func (s *surveyor) take(b *batch, base int) error {
	s.rows += b.read
	s.tally.merge(&b.faults, base)
	times, stretches := s.times(b, base)
	for _, e := range b.events {
		if e.column >= 0 {
			s.all[e.column].reading(e.value, e.time, 0)
		}
	}
	if s.l.long != nil {
		return nil
	}
	for k := range s.all {
		c := &s.all[k]
		for i, v := range b.vals[k] {
			if v == v {
				c.latest = v
			} else if bits := math.Float64bits(v); bits == emptyBits && s.held && k != s.clock {
				v = c.latest
			} else if bits != emptyBits && bits != noCellBits {
				c.written = true
			}
			if v == v {
				c.written = true
				c.reading(v, times[i], stretches[i])
			}
		}
	}
	return nil
}

// times gives each row of a batch its time, NaN where it has none, and its
// stretch; the batch itself keeps the rows without a time.
func (s *surveyor) times(b *batch, base int) (times []float64, stretches []int) {
	times, stretches = make([]float64, b.n), make([]int, b.n)
	if s.clock < 0 {
		for i := range times {
			times[i] = math.NaN()
		}
		return times, stretches
	}
	timed := &batch{n: b.n, line: slices.Clone(b.line), vals: [][]float64{slices.Clone(b.vals[s.clock])}, full: []bool{b.full[s.clock]}}
	s.a.clock(timed, 0, base)
	j := 0
	for i, v := range b.vals[s.clock] {
		if times[i] = math.NaN(); v == v {
			times[i], stretches[i] = s.a.time[j], s.a.stretches[j]
			j++
		}
	}
	return times, stretches
}

// report says what the survey found.
func (s *surveyor) report() *Survey {
	l, p := s.l, s.l.newPlan()
	sv := &Survey{Rows: s.rows, How: slices.Clone(l.why)}
	for _, k := range l.conflicts {
		s.tally.note(twice, l.d.headerLine, "%s", k.text())
	}
	for i, c := range l.cols {
		if c.text == "" && c.index == len(l.d.header)-1 && l.long == nil && !s.all[i].written {
			continue // no column: a delimiter at the end of each line
		}
		sv.Channels = append(sv.Channels, summary(c, &s.all[i], s.rows, l.long != nil))
		if c.bad != "" && c.seen.two == 0 && (c.name != "" || c.channel == "time") && (c.name == "time" || c.channel != "time") {
			s.tally.note(unitMisfit, l.d.headerLine, "column %s: %s", tables.Quote(c.text), c.bad)
		}
		if c.name != "" {
			p.assume(c)
		}
	}
	sv.Said = p.notes()
	sv.Faults = s.tally.list(s.a.gapOver)
	for _, c := range derivedChannels {
		if l.clockErr == nil && l.Resolve(c.name) == nil {
			sv.Derived = append(sv.Derived, c.name)
		}
	}
	return sv
}

func summary(c *column, s *surveyed, rows int, long bool) Channel {
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
