package drivelog

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"sync"

	"calsplice/tables"
)

// Overlaps finds rows that stand in more than one of the logs that are opened
// with it, and so count twice. It remembers a few thousand rows of each log, the
// same ones of all of them: which ones, their times decide.
type Overlaps struct {
	mu    sync.Mutex
	marks map[string][]*footmarks // by the log's name, in the order in which it was scanned
}

// footmarks are rows of one scan of a log.
type footmarks struct {
	columns     string  // that were read
	first, last float64 // seconds of the log
	kept        []footmark
	shift       uint // of 2^shift rows one is kept
}

// footmark is one row, by its time and by all of its values, so that rows that happen
// to share a time are told apart.
type footmark struct {
	when    uint64 // the time, scattered
	content uint64 // the values
	time    float64
}

const (
	mostFootmarks = 8192
	fewestAlike   = 5 // different rows that two drives do not share by chance
	scatter       = 0x9e3779b97f4a7c15
	dated         = 6.3e8 // seconds that are since 1970 and not since a start
)

// add takes the rows of a frame. Of times and values so many digits count as
// survive another unit or decimal mark.
func (m *footmarks) add(f *Frame) {
	// Which rows are kept depends on their times alone, so two logs keep the same ones of a
	// time that both have; the more rows there are, the fewer of them.
	for i, t := range f.Time {
		when := uint64(int64(float64(t*1000)+0.5)) * scatter
		if when>>(64-m.shift) != 0 {
			continue
		}
		content := uint64(0)
		for _, c := range f.Columns {
			content = (content<<7 | content>>57) ^ uint64(math.Float32bits(float32(c.Value[i])))*scatter
		}
		m.kept = append(m.kept, footmark{when, content, t})
		for len(m.kept) > mostFootmarks {
			m.shift++
			m.kept = slices.DeleteFunc(m.kept, func(f footmark) bool { return f.when>>(64-m.shift) != 0 })
		}
	}
	if n := f.N; n > 0 {
		m.first, m.last = min(m.first, f.Time[0]), max(m.last, f.Time[n-1])
	}
}

// finish keeps the footmarks of a scan.
func (o *Overlaps) finish(log string, m *footmarks) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.marks == nil {
		o.marks = map[string][]*footmarks{}
	}
	o.marks[log] = append(o.marks[log], m)
}

// Told says of each pair of logs that overlap, in the order of their names.
func (o *Overlaps) Told() (lines []string) {
	o.mu.Lock()
	defer o.mu.Unlock()
	base := filepath.Base // a log's name for a sentence
	names := slices.SortedFunc(maps.Keys(o.marks), func(a, b string) int { return cmp.Or(cmp.Compare(base(a), base(b)), cmp.Compare(a, b)) })
	for i, a := range names {
		for _, b := range names[:i] {
			if what := sharedBy(o.marks[b], o.marks[a]); what != "" {
				lines = append(lines, fmt.Sprintf("%s and %s overlap: %s: cut one of them", base(b), base(a), what))
			}
		}
	}
	return lines
}

// sharedBy says which rows two logs share, by the first scans of the same columns that
// show any.
func sharedBy(a, b []*footmarks) string {
	for _, m := range a {
		for _, o := range b {
			if m.columns != o.columns {
				continue
			}
			if what := m.shared(o); what != "" {
				return what
			}
		}
	}
	return ""
}

// Two files of one drive, one of them cut or exported anew, would count every sample twice,
// and nothing in the averages would show it.

// shared says which rows of two logs are the same; "" where none are. Both may
// begin with an engine that stands still at second 0: so several different ones
// must be, and most in the time from the first to the last of them. Logs with the
// date overlap by that alone.
func (m *footmarks) shared(o *footmarks) string {
	shift := max(m.shift, o.shift)
	mine, others := m.at(shift), o.at(shift)
	var both []footmark
	contents := map[uint64]bool{}
	for _, f := range mine {
		if _, ok := slices.BinarySearchFunc(others, f, compareFootmarks); ok {
			both, contents[f.content] = append(both, f), true
		}
	}
	if len(contents) >= fewestAlike {
		from, to := math.Inf(1), math.Inf(-1)
		for _, f := range both {
			from, to = min(from, f.time), max(to, f.time)
		}
		within := func(list []footmark) (n int) {
			for _, f := range list {
				if f.time >= from && f.time <= to {
					n++
				}
			}
			return n
		}
		if 2*len(both) >= min(within(mine), within(others)) {
			return fmt.Sprintf("some %d rows from %s to %s s stand in both and count twice", len(both)<<shift, tables.FormatValue(from), tables.FormatValue(to))
		}
	}
	if from, to := max(m.first, o.first), min(m.last, o.last); from > dated && to-from > 1 {
		return fmt.Sprintf("both were recorded from %s to %s s since 1970, and that time counts twice", tables.FormatValue(from), tables.FormatValue(to))
	}
	return ""
}

// at are the footmarks that are kept with a shift, in order.
func (m *footmarks) at(shift uint) []footmark {
	list := slices.DeleteFunc(slices.Clone(m.kept), func(f footmark) bool { return f.when>>(64-shift) != 0 })
	slices.SortFunc(list, compareFootmarks)
	return list
}

// compareFootmarks orders footmarks so that two logs' can be looked up in each other.
func compareFootmarks(a, b footmark) int {
	return cmp.Or(cmp.Compare(a.when, b.when), cmp.Compare(a.content, b.content))
}
