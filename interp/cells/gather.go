package cells

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
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
	Name string // in the document's source
	Open func() (*drivelog.Log, error)
	Once bool // it cannot be opened again: a stream
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
	for i, p := range gatherEach(ctx, logs, specs, sets) {
		if p.err != nil {
			errs = append(errs, tables.In(logs[i].Name, 0, 0, "", p.err))
			continue
		}
		for _, s := range p.notes {
			notes = append(notes, logs[i].Name+": "+s)
		}
		if grids == nil {
			grids = p.grids
			continue
		}
		for k, g := range grids {
			g.merge(p.grids[k])
		}
	}
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

// part is what one log gives.
type part struct {
	grids []*Grid
	notes []string
	err   error
}

// gatherEach reads logs, so many at a time.
func gatherEach(ctx context.Context, logs []Log, specs []Spec, sets []settings) []part {
	workers := specs[0].Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	parts := make([]part, len(logs))
	var wg sync.WaitGroup
	turn := make(chan struct{}, workers)
	for i, l := range logs {
		wg.Go(func() {
			turn <- struct{}{}
			defer func() { <-turn }()
			p := &parts[i]
			p.grids, p.notes, p.err = gatherOne(ctx, l, specs, sets)
		})
	}
	wg.Wait()
	return parts
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
	set := settings{Version: stateVersion, X: spec.X.Channel, Weight: spec.Weight.String(), weight: spec.Weight}
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
	list := make([]uint8, len(spec.Values))
	for i, v := range spec.Values {
		list[i] = sift.TrimsBehind(v, spec.Let)
	}
	return list
}

// ownDelay is the delay for one log, estimated where it is asked for.
func (l *Log) ownDelay(ctx context.Context, spec *Spec) (d *sift.Delay, notes []string, err error) {
	if d = spec.delay(); d == nil || !d.Steps {
		return d, nil, nil
	}
	if l.Once {
		return nil, []string{"no delay of lambda applied: a stream cannot be read twice to estimate it"}, nil
	}
	log, err := l.Open()
	if err != nil {
		return nil, nil, err
	}
	defer log.Close()
	lag, what, err := sift.StepDelay(ctx, log)
	if lag > 0 {
		d = &sift.Delay{Lag: lag}
	} else {
		d = nil
	}
	return d, []string{what}, err
}

// gatherOne reads one log for several questions.
func gatherOne(ctx context.Context, l Log, specs []Spec, sets []settings) ([]*Grid, []string, error) {
	list := make([]gathering, len(specs))
	for k := range specs {
		var err error
		if list[k].delay, list[k].notes, err = l.ownDelay(ctx, &specs[k]); err != nil {
			return nil, nil, err
		}
	}
	log, err := l.Open()
	if err != nil {
		return nil, nil, err
	}
	defer log.Close()
	var readers []drivelog.Reader
	for k := range list {
		if err := list[k].begin(log, specs[k], sets[k]); err != nil {
			return nil, nil, err
		}
		readers = append(readers, list[k].selector.Reader())
	}
	reading, err := log.ScanFor(ctx, readers...)
	if err != nil {
		return nil, nil, err
	}
	var grids []*Grid
	for k := range list {
		if err := list[k].end(l.Name, log, reading); err != nil {
			return nil, nil, err
		}
		grids = append(grids, list[k].grid)
	}
	return grids, list[0].notes, nil
}

// gathering is one question's part in the reading of a log.
type gathering struct {
	grid     *Grid
	placer   placer
	delay    *sift.Delay
	selector *sift.Selector
	notes    []string
}

// begin asks the log for what a question needs.
func (t *gathering) begin(log *drivelog.Log, spec Spec, set settings) error {
	if asked := log.Asked(); asked != "" {
		set.Asked = strings.TrimPrefix(set.Asked+"; "+asked, "; ")
	}
	g := newGrid(set, spec.X, spec.Y, spec.Values)
	here, err := newLocator(g)
	if err != nil {
		return err
	}
	columns := []string{spec.X.Channel}
	t.grid, t.placer = g, placer{recorder: newRecorder(g), here: here, values: 1, take: make([][]bool, len(spec.Values))}
	p := &t.placer
	if spec.Y != nil {
		columns = append(columns, spec.Y.Channel)
		p.values = 2
	}
	columns = append(columns, spec.Values...)
	for _, c := range columns {
		if err := log.Resolve(c); err != nil {
			return err
		}
	}
	if spec.Where != "" {
		if err := log.Resolve(spec.Where); err != nil {
			return err
		}
	}
	p.print = make(sift.Fingerprint, len(spec.Values))
	p.limits, columns = sift.WatchLimits(log, spec.TrimLimit, spec.behind(), columns)
	if p.delay, columns, err = newDelayer(log, spec, g, t.delay, columns); err != nil {
		return err
	}
	t.selector, err = sift.NewSelector(log, columns, spec.Where, spec.Filters, p.frame)
	return err
}

// end is what the reading came to.
func (t *gathering) end(name string, log *drivelog.Log, reading *drivelog.Reading) error {
	g, p := t.grid, &t.placer
	sel, err := t.selector.End(reading)
	if err != nil {
		return err
	}
	p.finish()
	p.limits.Finish(func(channel, at int, weight float64) { g.at(channel, at).AddLimit(weight) })
	g.sources = []tables.Source{p.source(name, sel)}
	if sel.Instants > 0 {
		g.logs = []sift.LogID{{Fingerprint: p.print.String(), Name: name}}
	}
	if e := log.Engine(); p.delay != nil && t.delay.Cycles > 0 && (e == nil || e.Strokes == 0) {
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
	s := tables.Source{Name: name, Rows: sel.Rows, Kept: p.kept}
	drop := func(reason string, n int) {
		if n > 0 {
			s.Dropped = append(s.Dropped, tables.Dropped{Reason: reason, Count: n})
		}
	}
	for r := sift.Kept + 1; r <= sift.Unread; r++ {
		drop(r.String(), sel.Dropped[r])
	}
	drop("axes not known", p.lost[offAxes])
	drop("no new reading", p.lost[unread])
	drop(fmt.Sprintf("combustion before the log began or over %d s earlier", longestDelay), p.lost[tooOld])
	drop("combustion during filtered-out samples", p.lost[filtered])
	drop("part of another row's instant", sel.Rows-sel.Instants)
	return s
}

// Thousands writes a count as people read it: 52,031.
func Thousands(n int) string {
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}
