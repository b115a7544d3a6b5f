package cells

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Spec is the question that cell averages answer: which channels, along which
// axes, from which samples.
type Spec struct {
	X, Y      *axes.Axis // Y is nil along a curve
	Values    []string
	Where     string // a condition over channels; "" is none
	Filters   sift.FilterOptions
	Weight    Weight
	Delay     *sift.Delay           // of lambda; nil is none, but the log's own with sift.Filters.Steady
	TrimLimit float64               // % at which the controller stops a trim; 0 is the log's own extreme
	Let       []drivelog.Definition // as the logs were opened with
	Workers   int                   // logs read at one time; 0 is one for each processor
}

// Log is a drive log to gather, opened when its turn comes.
type Log struct {
	Name string // its path, of which documents keep the last part
	Open func() (*drivelog.Log, error)
}

// Gather reads logs, each on a worker, and puts their samples into cells. It
// also returns what is to be said: each log's defects and assumptions, and the
// filters that it has no channels for.
// The grid does not depend on the order of the logs or the number of workers.
// Where no sample at all was kept, the error says why.
func Gather(ctx context.Context, logs []Log, spec Spec) (*Grid, []string, error) {
	grids, notes, err := gather(ctx, logs, spec)
	if err != nil {
		return nil, notes, err
	}
	return grids[0], notes, nil
}

// gather is [Gather] of several questions in one reading of each log. Notes and workers
// are the first one's.
func gather(ctx context.Context, logs []Log, specs ...Spec) ([]*Grid, []string, error) {
	sets := make([]settings, len(specs))
	for k := range specs {
		var err error
		if sets[k], err = specs[k].settings(); err != nil {
			return nil, nil, err
		}
	}
	var grids []*Grid
	var notes []string
	var errs []error
	gatherEach(ctx, logs, specs, sets, func(i int, list []*gathering, err error) {
		if err != nil {
			errs = append(errs, err)
			return
		}
		for _, s := range list[0].notes {
			notes = append(notes, logs[i].Name+": "+s)
		}
		for k, t := range list {
			if len(grids) == k {
				grids = append(grids, t.g)
			} else {
				grids[k].merge(t.g)
			}
		}
	})
	if err := errors.Join(errs...); err != nil {
		return nil, notes, err
	}
	if grids == nil {
		return nil, nil, fmt.Errorf("no log to read")
	}
	if err := sift.Twice(grids[0].logs); err != nil {
		return nil, notes, err
	}
	for _, g := range grids {
		g.sortSources()
	}
	return grids, notes, nil
}

// gatherEach reads logs, so many at a time, each once for all questions. take gets what
// each gives, by question, in the order of the logs; after that nothing of it is kept, so
// that a season of logs takes no more room than a few.
func gatherEach(ctx context.Context, logs []Log, specs []Spec, sets []settings, take func(i int, list []*gathering, err error)) {
	type outcome struct {
		list []*gathering
		err  error
	}
	var mu sync.Mutex
	ready, next := map[int]outcome{}, 0
	tally.EachOn(cmp.Or(max(specs[0].Workers, 0), runtime.GOMAXPROCS(0)), len(logs), func(i int) {
		var o outcome
		var parts []Part
		for k := range specs {
			o.list = append(o.list, &gathering{ctx: ctx, spec: &specs[k], settings: sets[k]})
			parts = append(parts, o.list[k])
		}
		o.err = cmp.Or(Read(ctx, logs[i:i+1], parts...)...)
		mu.Lock()
		defer mu.Unlock()
		for ready[i] = o; ; next++ {
			o, ok := ready[next]
			if !ok {
				return
			}
			delete(ready, next)
			take(next, o.list, o.err)
		}
	})
}

// settings is the part of a question that a document remembers.
func (spec *Spec) settings() (settings, error) {
	if len(spec.Values) == 0 {
		return settings{}, fmt.Errorf("no channel to average")
	}
	for i, v := range spec.Values {
		if slices.Contains(spec.Values[:i], v) {
			return settings{}, fmt.Errorf("channel %s is asked for twice", tables.Quote(v))
		}
	}
	if spec.X == nil {
		return settings{}, fmt.Errorf("no axis to average along")
	}
	set := settings{Version: stateVersion, X: spec.X.Channel, Weight: cmp.Or(spec.Weight, Nearest)}
	if spec.Y != nil {
		set.Y = spec.Y.Channel
	}
	var asked []string
	if spec.Where != "" {
		asked = append(asked, "where "+spec.Where)
	}
	if f := spec.Filters.String(); f != "" {
		asked = append(asked, "filters "+f)
	}
	if d := spec.delay(); d != nil {
		asked = append(asked, "delay "+d.String())
	}
	if spec.TrimLimit != 0 {
		asked = append(asked, "trim limit "+tables.FormatValue(spec.TrimLimit))
	}
	for _, l := range spec.Let {
		asked = append(asked, "let "+l.Name+" = "+l.Expr)
	}
	set.Asked = strings.Join(asked, "; ")
	return set, nil
}

// delay is what applies to the channels asked for: none where none is read in
// the exhaust.
func (spec *Spec) delay() *sift.Delay {
	switch {
	case !slices.ContainsFunc(spec.Values, sift.Delayed):
		return nil
	case spec.Delay == nil && spec.Filters.Steady:
		return &sift.Delay{Steps: true}
	}
	return spec.Delay
}

// behind is by channel the raw trims behind it.
func (spec *Spec) behind() []uint8 {
	return tables.Each(spec.Values, func(v string) uint8 { return sift.TrimsBehind(v, spec.Let) })
}

// gathering is one question's part in the reading of a log.
type gathering struct {
	ctx      context.Context
	spec     *Spec
	settings settings
	placer
	lag      *sift.Delay // the log's own
	log      *drivelog.Log
	name     string
	selector *sift.Selector
	notes    []string
}

// findDelay is the delay for the log, estimated where it is asked for.
func (t *gathering) findDelay() error {
	if t.lag = t.spec.delay(); t.lag == nil || !t.lag.Steps {
		return nil
	}
	lag, what, err := sift.StepDelay(t.ctx, t.log)
	if t.lag = nil; lag > 0 {
		t.lag = &sift.Delay{Lag: lag}
	}
	t.notes = append(t.notes, what)
	return err
}

// Begin asks the log for what the question needs.
func (t *gathering) Begin(name string, log *drivelog.Log) (r drivelog.Reader, err error) {
	spec := t.spec
	t.name, t.log = name, log
	if err := t.findDelay(); err != nil {
		return r, err
	}
	if asked := log.Asked(); asked != "" {
		t.settings.Asked = strings.TrimPrefix(t.settings.Asked+"; "+asked, "; ")
	}
	q := drivelog.Query{Columns: []string{spec.X.Channel}}
	if spec.Y != nil {
		q.Columns = append(q.Columns, spec.Y.Channel)
	}
	t.placer = newPlacer(newGrid(t.settings, spec.X, spec.Y, spec.Values), len(q.Columns))
	if t.here, err = newLocator(t.g); err != nil {
		return r, err
	}
	q.Columns = append(q.Columns, spec.Values...)
	needed := q.Columns
	if spec.Where != "" {
		needed = append(slices.Clone(needed), spec.Where)
	}
	for _, c := range needed {
		if err := log.Resolve(c); err != nil {
			return r, err
		}
	}
	t.limits = sift.WatchLimits(log, spec.TrimLimit, spec.behind(), &q)
	if t.delay, err = newDelayer(log, t.g, t.lag, &q); err != nil {
		return r, err
	}
	if t.selector, err = sift.NewSelector(log, q, spec.Where, spec.Filters, t.frame); err != nil {
		return r, err
	}
	return t.selector.Reader(), nil
}

// End is what the reading came to.
func (t *gathering) End(reading *drivelog.Reading) error {
	sel, err := t.selector.End(reading)
	if err != nil {
		return err
	}
	t.finish()
	name := filepath.Base(t.name)
	t.g.sources = []tables.Source{t.source(name, sel)}
	if sel.Instants > 0 {
		t.g.logs = []sift.LogID{{Fingerprint: t.print.String(), Name: name}}
	}
	if e := t.log.Engine(); t.delay != nil && t.lag.Cycles > 0 && (e == nil || e.Strokes == 0) {
		t.notes = append(t.notes, "delay: four strokes are assumed")
	}
	for _, f := range sel.Faults {
		t.notes = append(t.notes, f.String())
	}
	t.notes = slices.Concat(t.notes, sel.Reading.Notes, sel.Notes)
	return nil
}

// source reports what became of the log's rows: every one that was not kept has
// its reason.
func (p *placer) source(name string, sel *sift.Selection) tables.Source {
	s := tables.Source{Name: name, Rows: sel.Rows, Kept: p.kept, Dropped: sel.Dropped}
	drop := func(reason string, n int) {
		if n > 0 {
			s.Dropped = append(s.Dropped, tables.Dropped{Reason: reason, Count: n})
		}
	}
	drop("axes not known", p.lost[offAxes])
	drop("no new reading", p.lost[unread])
	drop(fmt.Sprintf("combustion before the log began or over %d s earlier", sift.LongestDelay), p.lost[tooOld])
	drop("combustion during filtered-out samples", p.lost[filtered])
	untimed := 0
	if i := slices.IndexFunc(sel.Faults, func(f drivelog.Fault) bool { return f.Kind == "clock-missing" }); i >= 0 {
		untimed = sel.Faults[i].Count
	}
	drop("no time", untimed)
	drop("part of another row's instant", sel.Rows-sel.Instants-untimed)
	return s
}
