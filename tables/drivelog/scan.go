package drivelog

import (
	"bytes"
	"context"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
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
	if l.clock.said != "" {
		p.say("%s", l.clock.said)
	}
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
	s := &scanner{l: l, p: p, programs: programs, fn: fn, ctx: ctx}
	if l.opt.Overlaps != nil {
		s.marks = &footmarks{first: math.Inf(1), last: math.Inf(-1)}
	}
	r, err := s.run()
	if err == nil && s.marks != nil {
		l.opt.Overlaps.finish(l.name, strings.Join(q.Columns, "\x00"), s.marks)
	}
	return r, err
}

// scanner is one scan under way.
type scanner struct {
	l        *Log
	p        *plan
	programs []*program
	fn       func(*Frame) error
	ctx      context.Context
	a        *aligner
	m        machine
	f        Frame
	tally    tally
	rows     int
	timeSlot int
	slotOf   []int // by input
	marks    *footmarks
}

func (s *scanner) run() (*Reading, error) {
	l := s.l
	s.tally.merge(&l.faults, 0)
	held := l.held && l.long == nil
	s.a = newAligner(len(s.p.inputs), l.opt.maxAge(), l.gapOver(), held, l.clock.clock.kind == clockOfDay, &s.tally)
	s.m.in = make([][]float64, len(s.p.inputs))
	s.f.Columns = make([]Column, len(s.programs))
	var err error
	if l.long != nil {
		err = s.longRows()
	} else {
		err = s.wideRows()
	}
	if err != nil {
		return nil, err
	}
	return &Reading{Rows: s.rows, Faults: s.tally.list(l.gapOver()), Said: s.p.said}, nil
}

func (s *scanner) wideRows() error {
	rp := s.l.rowParser(append([]*column{s.l.clock}, s.p.inputs...))
	s.slotOf = make([]int, len(s.p.inputs))
	for k, sl := range rp.slots {
		if sl.col == s.l.clock {
			s.timeSlot = k
		}
		if i := slices.Index(s.p.inputs, sl.col); i >= 0 {
			s.slotOf[i] = k
		}
	}
	return s.l.eachPiece(s.ctx, rp.parse, func(b *batch, line int) error {
		s.rows += b.n
		s.tally.merge(&b.faults, line)
		return s.frame(b, line)
	})
}

// rowParser parses the columns given of a wide log.
func (l *Log) rowParser(cols []*column) *rowParser {
	rp := &rowParser{delim: l.d.delim, delims: []byte{l.d.delim}, eol: l.d.eol, width: len(l.d.header), usual: l.d.usual, trailing: l.d.trailing, missing: l.missing, enc: l.d.enc}
	for _, c := range cols {
		if !slices.ContainsFunc(rp.slots, func(s slot) bool { return s.col == c }) {
			plain := c.conv.Identity() && (c.clock == nil || c.clock.kind == clockNumber && c.clock.div == 1)
			rp.slots = append(rp.slots, slot{col: c, index: c.index, mark: eachByte * uint64(c.decimal), shape: newShape(c.places, c.decimal),
				plain: plain, bare: plain || c.clock == nil})
		}
	}
	slices.SortFunc(rp.slots, func(a, b slot) int { return a.index - b.index })
	rp.setSkips()
	rp.header, rp.heads = bytes.Clone(l.d.headerRaw), newHeads(l)
	return rp
}

func (s *scanner) longRows() error {
	wanted := make([]int, len(s.l.cols))
	for i, c := range s.l.cols {
		wanted[i] = slices.Index(s.p.inputs, c)
	}
	s.slotOf = make([]int, len(s.p.inputs))
	for i := range s.slotOf {
		s.slotOf[i] = i + 1
	}
	in := newInstants(len(s.p.inputs))
	give := func(events []event, base int, flush bool) error {
		b := *in.take(events, base, flush)
		b.vals = slices.Clone(b.vals)
		b.n = in.complete()
		for k := range b.vals {
			b.vals[k] = b.vals[k][:b.n]
		}
		b.line = b.line[:b.n]
		return s.frame(&b, 0)
	}
	err := s.l.eachPiece(s.ctx, s.l.longParser(wanted), func(b *batch, line int) error {
		s.rows += b.n
		s.tally.merge(&b.faults, line)
		return give(b.events, line, false)
	})
	if err != nil {
		return err
	}
	return give(nil, 0, true)
}

// frame aligns one batch and hands it over; the batch's lines count from base.
func (s *scanner) frame(b *batch, base int) error {
	s.a.clock(b, s.timeSlot, base)
	if b.n == 0 {
		return nil
	}
	for k := range s.p.inputs {
		s.a.fill(k, b.vals[s.slotOf[k]], b.full[s.slotOf[k]])
		s.m.in[k] = s.a.value[k]
	}
	s.m.n, s.m.time = b.n, s.a.time
	s.m.frame++
	if s.p.rail >= 0 {
		for i, v := range s.m.in[s.p.rail] {
			if v > tables.MaxRailPressure {
				return &tables.Fault{File: s.l.name, Line: base + int(b.line[i]), What: "a rail pressure of " + short(v) +
					" kPa is no port injection's: up to " + short(tables.MaxRailPressure) + " is read"}
			}
		}
	}
	f := &s.f
	f.N, f.Time, f.Stretch = b.n, s.a.time, s.a.stretchN
	f.Line = resize(f.Line, b.n)
	for i, n := range b.line {
		f.Line[i] = base + int(n)
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

// fresh is where at least one input of a program was read anew.
func (s *scanner) fresh(pr *program, buf []bool) []bool {
	if len(pr.inputs) == 1 && pr.inputs[0] >= 0 {
		return s.a.fresh[pr.inputs[0]]
	}
	n := s.m.n
	buf = resize(buf, n)
	clear(buf)
	for _, k := range pr.inputs {
		for i := range buf {
			buf[i] = buf[i] || k == timeInput || s.a.fresh[k][i]
		}
	}
	return buf
}
