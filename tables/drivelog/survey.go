package drivelog

import (
	"cmp"
	"context"
	"math"
	"slices"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/drivelog/rows"
)

// Survey is what is in a log: every column, recognised or not, and every
// defect. In JSON it is what `channels --json` prints.
type Survey struct {
	Rows     int       `json:"rows"`     // data rows; readings in the long form
	Channels []Channel `json:"channels"` // in the log's order
	Faults   []Fault   `json:"faults"`
	How      []string  `json:"-"` // how the log is written, and why it is read so
	Notes    []string  `json:"-"` // what is assumed
	Derived  []string  `json:"-"` // what can be computed from the channels
}

// Channel is one column of a log. Figures are in Unit: the channel's own where
// it is recognised, the log's otherwise.
type Channel struct {
	Name    string        `json:"name"`   // "" where the column is not recognised
	Header  string        `json:"header"` // as the log has it, but for blanks around it
	Shown   string        `json:"-"`      // the same for people: double encoding undone
	Unit    string        `json:"unit"`
	Assumed bool          `json:"assumed"` // the log gives no unit, the channel's own is assumed
	Why     string        `json:"-"`       // why it is read as it is
	Count   int           `json:"count"`   // readings
	Missing int           `json:"missing"` // rows without one
	Min     tables.Number `json:"min"`
	Max     tables.Number `json:"max"`
	Mean    tables.Number `json:"mean"` // NaN, like Min and Max, where there is no reading
	Step    float64       `json:"-"`    // mean time between readings inside stretches, seconds; NaN where not known
	Longest float64       `json:"-"`    // longest time between two readings, seconds; 0 where there are none
}

// column of a survey while it is being added up.
type surveyed struct {
	channel.Stats
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
	s := &surveyor{l: l, cols: l.cols, clock: slices.Index(l.cols, l.clock)}
	if l.long != nil {
		s.clock, s.cols = len(l.cols), append(slices.Clone(l.cols), l.clock)
	}
	s.all = make([]surveyed, len(s.cols))
	for i := range s.all {
		s.all[i].at, s.all[i].latest = math.NaN(), math.NaN()
	}
	s.tally.Merge(&l.faults, 0)
	s.a = rows.NewAligner(0, l.alignment(), &s.tally)
	if err := l.eachBatch(ctx, s.cols, s.take); err != nil {
		return nil, err
	}
	return s.report(), nil
}

// surveyor is a survey under way.
type surveyor struct {
	l     *Log
	cols  []*channel.Column
	clock int // among them; −1 where there is none
	all   []surveyed
	a     *rows.Aligner
	tally rows.Tally
	rows  int
}

// A survey looks at every column, also at those that are no channel, and at rows without a
// time, which a scan has no use for; so it reads batches itself.

// take adds the rows of a batch or, in the long form, each of its readings.
func (s *surveyor) take(b *rows.Batch, base int) error {
	s.rows += b.Read
	s.tally.Merge(&b.Faults, base)
	times, stretches := slices.Repeat([]float64{math.NaN()}, b.N), make([]int, b.N)
	if s.clock >= 0 {
		s.a.Clock(b, s.clock, base)
		times, stretches = s.a.Time, s.a.Stretches
	}
	for _, e := range b.Events {
		if e.Column >= 0 {
			s.all[e.Column].reading(e.Value, e.Time, 0)
		}
	}
	if s.l.long != nil {
		return nil
	}
	for k := range s.all {
		c := &s.all[k]
		for i, v := range b.Vals[k] {
			// A cell without a reading is empty, which may mean "as above", or holds something
			// else, or is not there in a short row; the kind of NaN tells them apart.
			if v == v {
				c.latest = v
			} else if bits := math.Float64bits(v); bits == dialect.EmptyBits && s.a.Held && k != s.clock {
				v = c.latest
			} else if bits != dialect.EmptyBits && bits != dialect.NoCellBits {
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

// report says what the survey found.
func (s *surveyor) report() *Survey {
	l, p := s.l, s.l.newPlan()
	sv := &Survey{Rows: s.rows, Channels: []Channel{}, How: slices.Clone(l.why)}
	for _, k := range l.conflicts {
		s.tally.Note(rows.Twice, l.d.HeaderLine, "%s", k.Text())
	}
	for i, c := range l.cols {
		if c.Text == "" && c.Index == len(l.d.Header)-1 && l.long == nil && !s.all[i].written {
			continue // no column: a delimiter at the end of each line
		}
		sv.Channels = append(sv.Channels, summary(c, &s.all[i], s.rows, l.long != nil))
		// Why a channel cannot be used is a fault of the log; of a column that is none, it is
		// not.
		if c.Bad != "" && c.Seen.Two == 0 && c.Name != "" && (c.Name == "time" || c.Channel != "time") {
			s.tally.Note(rows.UnitMisfit, l.d.HeaderLine, "column %s: %s", tables.Quote(c.Text), c.Bad)
		}
		if c.Name != "" {
			p.assume(c)
		}
	}
	sv.Notes = p.notes()
	sv.Faults = s.tally.List(s.a.GapOver)
	for _, c := range channel.DerivedChannels {
		if l.clockErr == nil && l.Resolve(c.Name) == nil {
			sv.Derived = append(sv.Derived, c.Name)
		}
	}
	return sv
}

// summary is what a survey shows of a column. In the long form a channel has no rows
// without a reading, since each row is one.
func summary(c *channel.Column, s *surveyed, rows int, long bool) Channel {
	ch := Channel{Name: c.Name, Header: c.Raw, Shown: c.Text, Unit: c.Unit(), Assumed: c.Assumed, Why: cmp.Or(c.Bad, c.Why, "not recognised"), Count: s.Count,
		Missing: rows - s.Count, Mean: tables.Number(s.Mean()), Step: s.steps / float64(s.n), Longest: s.longest}
	if long {
		ch.Missing = 0
	}
	if ch.Min, ch.Max = tables.Number(s.Min), tables.Number(s.Max); s.Count == 0 {
		ch.Min, ch.Max = ch.Mean, ch.Mean
	}
	return ch
}

// reading adds a value, and the time since the one before where the clock went on.
func (s *surveyed) reading(v, t float64, stretch int) {
	s.Add(v)
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
