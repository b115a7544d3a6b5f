package drivelog

import (
	"context"
	"math"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/formula"
	"calsplice/tables/drivelog/rows"
)

// Query names what a scan is to give.
type Query struct {
	Columns []string // channel names, derived names or expressions; a comparison is 1 or 0
}

// Frame is a run of consecutive instants in the log's order. It is valid only
// during the call that gets it.
type Frame struct {
	N       int
	Line    []int     // file line of the row; of an instant's first reading in the long form
	Time    []float64 // seconds, from the log's own clock; a midnight adds a day
	Stretch []int     // increases where the clock steps back or restarts, and after a gap
	Columns []Column  // as in Query
}

// Column is one value of a query over the instants of a frame.
type Column struct {
	Value []float64 // as of the instant; NaN where an input has no reading that still stands
	Fresh []bool    // at least one of its inputs was read anew at this instant
}

// Reading is what a scan went through.
type Reading struct {
	Rows   int      // data rows; readings in the long form
	Faults []Fault  // defects of the time and of the columns that the query needed
	Said   []string // what was assumed
}

// Scan reads the log once and hands the query's values to fn, frame by frame
// in the log's order, one at a time. An error of fn ends the scan and is
// returned as it is.
func (l *Log) Scan(ctx context.Context, q Query, fn func(*Frame) error) (*Reading, error) {
	if l.clockErr != nil {
		return nil, l.clockErr
	}
	p := l.newPlan()
	p.assume(l.clock)
	var programs []*program
	var faults tables.Faults
	for _, c := range q.Columns {
		pr, err := p.compile(c)
		if err != nil {
			f, ok := err.(*tables.Fault)
			if !ok {
				f = &tables.Fault{File: l.name, What: err.Error()}
			}
			faults = append(faults, f)
			continue
		}
		programs = append(programs, pr)
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	s := &scanner{l: l, p: p, programs: programs, fn: fn}
	s.tally.Merge(&l.faults, 0)
	s.a = rows.NewAligner(len(p.inputs), l.alignment(), &s.tally)
	s.m.In = make([][]float64, len(p.inputs))
	s.f.Columns = make([]Column, len(programs))
	if l.opt.Overlaps != nil {
		s.marks = &footmarks{first: math.Inf(1), last: math.Inf(-1)}
	}
	if err := l.eachBatch(ctx, append([]*channel.Column{l.clock}, p.inputs...), s.frame); err != nil {
		return nil, err
	}
	if s.marks != nil {
		l.opt.Overlaps.finish(l.name, strings.Join(q.Columns, "\x00"), s.marks)
	}
	return &Reading{Rows: s.rows, Faults: s.tally.List(s.a.GapOver), Said: p.notes()}, nil
}

// scanner is one scan under way.
type scanner struct {
	l        *Log
	p        *plan
	programs []*program
	fn       func(*Frame) error
	a        *rows.Aligner
	m        formula.Machine
	f        Frame
	tally    rows.Tally
	rows     int
	marks    *footmarks
}

// frame aligns one batch, of the clock and the inputs, and hands it over; the
// batch's lines count from base.
func (s *scanner) frame(b *rows.Batch, base int) error {
	s.rows += b.Read
	s.tally.Merge(&b.Faults, base)
	s.a.Clock(b, 0, base)
	if b.N == 0 {
		return nil
	}
	for k := range s.a.Inputs {
		s.a.Fill(k, b.Vals[1+k], b.Full[1+k])
		s.m.In[k] = s.a.Inputs[k].Value
	}
	s.m.N, s.m.Time = b.N, s.a.Time
	s.m.Frame++
	f := &s.f
	f.N, f.Time, f.Stretch = b.N, s.a.Time, s.a.Stretches
	f.Line = rows.Resize(f.Line, b.N)
	for i, n := range b.Line {
		f.Line[i] = base + int(n)
	}
	if err := s.checkRail(f); err != nil {
		return err
	}
	for i, pr := range s.programs {
		f.Columns[i].Value = pr.run(&s.m)
		f.Columns[i].Fresh = s.fresh(pr, f.Columns[i].Fresh)
	}
	if s.marks != nil {
		s.marks.add(f)
	}
	return s.fn(f)
}

// checkRail refuses a rail pressure that no port injection has.
func (s *scanner) checkRail(f *Frame) error {
	if s.p.rail < 0 {
		return nil
	}
	for i, v := range s.m.In[s.p.rail] {
		if v > tables.MaxRailPressure {
			return &tables.Fault{File: s.l.name, Line: f.Line[i], What: "a rail pressure of " + tables.Digits(v, 5) +
				" kPa is no port injection's: up to " + tables.Digits(tables.MaxRailPressure, 5) + " is read"}
		}
	}
	return nil
}

// fresh is where at least one input of a program was read anew.
func (s *scanner) fresh(pr *program, buf []bool) []bool {
	if len(pr.inputs) == 1 && pr.inputs[0] >= 0 {
		return s.a.Inputs[pr.inputs[0]].Fresh
	}
	buf = rows.Resize(buf, s.m.N)
	clear(buf)
	for _, k := range pr.inputs {
		for i := range buf {
			buf[i] = buf[i] || k == timeInput || s.a.Inputs[k].Fresh[i]
		}
	}
	return buf
}
