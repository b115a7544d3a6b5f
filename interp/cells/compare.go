package cells

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"sync"

	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"

	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// Rate is the share of false discoveries that [Compare] controls: of the cells
// that it calls changed, no more than this share is expected to be chance.
const Rate = 0.05

// Comparison is what changed between two drives.
type Comparison struct {
	Channels []ChannelChange `json:"channels"`
	OnlyOld  []string        `json:"only_old,omitempty"` // channels of one drive alone
	OnlyNew  []string        `json:"only_new,omitempty"`
}

// ChannelChange is what changed of one channel.
type ChannelChange struct {
	Channel string       `json:"channel"`
	Unit    string       `json:"unit"`
	X       *tables.Axis `json:"-"`
	Y       *tables.Axis `json:"-"`
	Cells   []CellChange `json:"cells"` // row after row; those with samples in either drive
	Tested  int          `json:"tested"`
	Changed int          `json:"changed"` // beyond chance
	Before  Verdict      `json:"before"`
	After   Verdict      `json:"after"`
}

// CellChange is one cell before and after. What a drive does not have is null.
type CellChange struct {
	At      [2]int        `json:"at"`
	X       tables.Number `json:"x,omitzero"`
	Y       tables.Number `json:"y,omitzero"`
	Before  tables.Number `json:"before"`
	After   tables.Number `json:"after"`
	Change  tables.Number `json:"change"`
	SE      tables.Number `json:"se"` // of the change
	P       tables.Number `json:"p"`  // Welch's test on the visits; null with too few
	Q       tables.Number `json:"q"`  // p controlled for the number of cells
	Changed bool          `json:"changed"`
}

// Verdict is how one drive's cells stand against what is normal for the
// channel: a bound for trims and for knock retard, none (0) for others.
type Verdict struct {
	Bound      float64       `json:"bound,omitempty"`
	CellShare  tables.Number `json:"share_of_cells,omitzero"` // within the bound
	TimeShare  tables.Number `json:"share_of_time,omitzero"`
	Mean       float64       `json:"mean"`
	Worst      float64       `json:"worst"`
	WorstAt    [2]int        `json:"worst_at"`
	CellsKnown int           `json:"cells"`
}

// Bounds of what is normal: a trim of ±5 %, a knock retard of 1°, which is what
// a knock sensor reports of nothing now and then. Common practice, no source.
const (
	trimBound  = 5
	knockBound = 1
	leastTest  = 3 // visits in each drive for a test
)

// A test for one cell among hundreds looks far out into the tail, where the
// standard error's own error tells more than at the 95 % of an interval: the
// span of its clusters was itself estimated. These make p-values of healthy
// pairs of drives what they say they are, in the simulation of
// TestTwentyHealthyPairs.
const tailError, tailFreedom = 1.05, 0.6

// boundOf is the bound of what is normal for a channel, in the channel's own unit; 0 is
// none.
func boundOf(channel string) float64 {
	switch {
	case strings.Contains(channel, "trim"), channel == "mixture_error":
		return trimBound
	case channel == "knock_retard":
		return knockBound
	}
	return 0
}

// Compare reports what changed from one drive to another, cell by cell: Welch's
// test on the visits, with the p-values controlled for the number of cells by
// Benjamini and Hochberg's step-up procedure (Journal of the Royal Statistical
// Society B 57, 1995).
func Compare(old, new *tables.Calibration) (*Comparison, error) {
	for _, d := range []*tables.Calibration{old, new} {
		if d.Kind() != tables.Cells {
			return nil, fmt.Errorf("only cell averages compare with cell averages")
		}
	}
	names := Channels(old)
	for _, n := range Channels(new) {
		if !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	a, b := sideOf(old), sideOf(new)
	return compare(tables.Each(names, func(n string) pair { return pair{n, a, b} })...)
}

// CompareDrives is [Compare] of two drives: trims where steady, retard by all
// samples.
func CompareDrives(old, new *Drive) (*Comparison, error) {
	return compare(pair{Trim, sideOf(old.Steady), sideOf(new.Steady)}, pair{KnockRetard, sideOf(old.Retard), sideOf(new.Retard)})
}

// pair is a channel and the cells of two drives, which may lack it.
type pair struct {
	channel  string
	old, new *side
}

// side is the cells of one drive, and their exact state, read once for all channels; nil
// where there is none that still is what the tables say.
type side struct {
	doc   *tables.Calibration // nil for no cells
	exact func() (*Grid, error)
}

func sideOf(doc *tables.Calibration) *side {
	return &side{doc, sync.OnceValues(func() (*Grid, error) {
		if len(doc.Contents().State) == 0 {
			return nil, nil
		}
		g, err := fromDocument(doc)
		if errors.Is(err, errEdited) {
			return nil, nil
		}
		return g, err
	})}
}

// compare compares those channels that both drives have, and lists the others.
func compare(pairs ...pair) (*Comparison, error) {
	c := &Comparison{}
	for _, p := range pairs {
		hasOld, hasNew := has(p.old.doc, p.channel), has(p.new.doc, p.channel)
		switch {
		case hasOld && hasNew:
			ch, err := compareChannel(p.channel, p.old, p.new)
			if err != nil {
				return nil, err
			}
			c.Channels = append(c.Channels, *ch)
		case hasOld:
			c.OnlyOld = append(c.OnlyOld, p.channel)
		case hasNew:
			c.OnlyNew = append(c.OnlyNew, p.channel)
		}
	}
	if c.Channels == nil {
		return nil, errors.New("the two drives have no channel in common")
	}
	return c, nil
}

// has reports whether there are cells of a channel.
func has(doc *tables.Calibration, channel string) bool {
	return doc != nil && slices.Contains(Channels(doc), channel)
}

// Changed reports whether any cell changed beyond chance, or one drive alone has
// a channel.
func (c *Comparison) Changed() bool {
	return len(c.OnlyOld)+len(c.OnlyNew) > 0 || slices.ContainsFunc(c.Channels, func(ch ChannelChange) bool { return ch.Changed > 0 })
}

// Why visits and not samples: a logger that reads ten times a second measures the same
// state of the engine ten times. What is independent are the returns to a cell, under
// another temperature, road and mood; a standard error by the number of samples would call
// every difference significant.

// estimate is what one cell of one drive says of a channel; NaN for what it does not.
type estimate struct{ mean, se, freedom, count, visits float64 }

// evidence is what is known of one channel of one drive.
type evidence struct {
	cells []estimate
	bound float64 // of what is normal, in the unit of the mean; 0 is none
}

// compareChannel compares one channel cell by cell. The axes must be the same ones: cells
// between other breakpoints would hold other samples.
func compareChannel(name string, old, new *side) (*ChannelChange, error) {
	a, b := old.doc.Table(name+".mean"), new.doc.Table(name+".mean")
	if !a.X().Equal(b.X()) || !a.Y().Equal(b.Y()) {
		return nil, fmt.Errorf("channel %s: the axes of the two drives' cells differ: gather both on one pair", name)
	}
	if a.Unit() != b.Unit() {
		return nil, fmt.Errorf("channel %s is in %s in one drive and in %s in the other", name, tables.Quote(a.Unit()), tables.Quote(b.Unit()))
	}
	ch := &ChannelChange{Channel: name, Unit: a.Unit(), X: a.X(), Y: a.Y()}
	ea, err := old.evidence(name)
	if err != nil {
		return nil, fmt.Errorf("the first drive's cells: %w", err)
	}
	eb, err := new.evidence(name)
	if err != nil {
		return nil, fmt.Errorf("the second drive's cells: %w", err)
	}
	var p []float64
	var tested []int
	for i := range ea.cells {
		was, is := &ea.cells[i], &eb.cells[i]
		if math.IsNaN(was.mean) && math.IsNaN(is.mean) {
			continue
		}
		at := [2]int{i / a.Columns(), i % a.Columns()}
		cell := CellChange{At: at, X: breakpoint(a.X(), at[1]), Y: breakpoint(a.Y(), at[0]), Before: tables.Number(was.mean), After: tables.Number(is.mean),
			Change: tables.Number(is.mean - was.mean), SE: tables.Number(math.Hypot(was.se, is.se)), P: tables.Number(chance(was, is)), Q: none}
		if cell.P.Known() {
			p, tested = append(p, float64(cell.P)), append(tested, len(ch.Cells))
		}
		ch.Cells = append(ch.Cells, cell)
	}
	for k, q := range controlled(p) {
		cell := &ch.Cells[tested[k]]
		cell.Q = tables.Number(q)
		if cell.Changed = q <= Rate; cell.Changed {
			ch.Changed++
		}
	}
	ch.Tested = len(p) // cells too seldom visited are shown, and not tested
	ch.Before, ch.After = ea.verdict(a.Columns()), eb.verdict(a.Columns())
	return ch, nil
}

// none is a number that there is not.
var none = tables.Number(math.NaN())

// breakpoint is one of an axis, if there is one.
func breakpoint(a *tables.Axis, i int) tables.Number {
	if a == nil {
		return none
	}
	return tables.Number(a.At(i))
}

// evidence takes a channel's evidence from the exact state, with the degrees of freedom that
// the visits really give, or else from the tables.
func (s *side) evidence(name string) (*evidence, error) {
	doc, mean := s.doc, s.doc.Table(name+".mean")
	var err error
	column := func(statistic string) []float64 {
		t := doc.Table(name + "." + statistic)
		if t == nil {
			return slices.Repeat([]float64{math.NaN()}, len(mean.Values()))
		}
		if !t.X().Equal(mean.X()) || !t.Y().Equal(mean.Y()) {
			err = fmt.Errorf("table %s has other axes than table %s", t.ID(), mean.ID())
			return make([]float64, len(mean.Values()))
		}
		return t.Values()
	}
	e := &evidence{bound: boundOf(name)}
	se, count, visits := column("se"), column("count"), column("visits")
	if err != nil {
		return nil, err
	}
	for i, m := range mean.Values() {
		e.cells = append(e.cells, estimate{m, se[i], visits[i] - 1, count[i], visits[i]})
	}
	if e.bound > 0 {
		f, err := factor(drivelog.ChannelUnit(name), mean.Unit())
		if err != nil {
			return nil, fmt.Errorf("table %s: %w", mean.ID(), err)
		}
		e.bound *= f
	}
	in, err := s.takeErrors(e, name)
	if err != nil {
		return nil, err
	}
	f, err := factor(in, mean.Unit())
	if err != nil {
		return nil, fmt.Errorf("table %s.se is in %s, and %s in %s", name, tables.Quote(in), mean.ID(), tables.Quote(mean.Unit()))
	}
	for i := range e.cells {
		e.cells[i].se *= f
	}
	e.floor()
	return e, nil
}

// The tables hold errors made wider for few visits, for a person to read; a test has its own
// allowance for that in its degrees of freedom, so it takes the plain errors from the
// state.

// takeErrors takes the errors of the exact state, if there is one, in place of the tables',
// and is the unit that they are in.
func (s *side) takeErrors(e *evidence, name string) (in string, err error) {
	g, err := s.exact()
	if t := s.doc.Table(name + ".se"); g == nil && t != nil {
		return t.Unit(), err
	}
	if g != nil {
		se, freedom := tally.PlainErrors(g.channels[slices.Index(g.channelNames(), name)].cells)
		for i := range e.cells {
			e.cells[i].se, e.cells[i].freedom = se[i]*tailError, max(freedom[i]*tailFreedom, 1)
		}
	}
	return drivelog.ChannelUnit(name), err
}

// factor is by how much a difference grows from one unit to another.
func factor(from, to string) (float64, error) {
	if unit.Same(from, to) {
		return 1, nil
	}
	c, err := unit.Find(from, to)
	return c.Mul / c.Div, err
}

// floor raises standard errors that are too small to be believed. A few visits
// of a reading that comes in steps may all have one mean; its error is not 0.
// A fifth of what the channel's visits usually differ by is the least.
func (e *evidence) floor() {
	var usual []float64
	for _, c := range e.cells {
		if !math.IsNaN(c.se) && c.visits >= leastTest {
			usual = append(usual, c.se*math.Sqrt(c.visits))
		}
	}
	if usual == nil {
		return
	}
	slices.Sort(usual)
	least := usual[len(usual)/2] / 5
	for i := range e.cells {
		c := &e.cells[i]
		c.se = max(c.se, least/math.Sqrt(c.visits))
	}
}

// chance is the p-value of one cell's change; NaN where there are too few visits to tell.
func chance(was, is *estimate) float64 {
	if !(was.visits >= leastTest && is.visits >= leastTest) {
		return math.NaN()
	}
	// What a conversion from another unit rounds is neither noise nor a change.
	rounding := 1e-9 * max(math.Abs(was.mean), math.Abs(is.mean))
	if was.se <= rounding && is.se <= rounding {
		return permuted(math.Abs(was.mean-is.mean) > rounding, was.visits, is.visits)
	}
	return welch(was, is)
}

// The two drives' errors are not equal, since one may have been longer or rougher, so
// Student's test with a common variance would not hold.

// welch is the two-sided p-value of Welch's test for two means with their
// standard errors and degrees of freedom; NaN where there is no telling.
func welch(a, b *estimate) float64 {
	v1, v2 := float64(a.se*a.se), float64(b.se*b.se)
	if !(v1+v2 > 0) || !(a.freedom > 0) || !(b.freedom > 0) {
		return math.NaN()
	}
	t := (b.mean - a.mean) / math.Sqrt(v1+v2)
	freedom := (v1 + v2) * (v1 + v2) / (v1*v1/a.freedom + v2*v2/b.freedom)
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.CDF(-math.Abs(t))
}

// permuted is the two-sided p-value of a permutation test where all visits of a
// drive have one mean, so that there is no variance to test against: of all ways
// to share the visits out to the two drives, only two are as extreme (Fisher, The
// Design of Experiments, 1935, §21).
func permuted(differ bool, visits1, visits2 float64) float64 {
	if !differ {
		return 1
	}
	return min(1, 2*math.Exp(-combin.LogGeneralizedBinomial(visits1+visits2, visits1)))
}

// controlled are the p-values adjusted so that those under a bound have no more
// than that share of false discoveries (Benjamini and Hochberg).
func controlled(p []float64) []float64 {
	// From the largest p down, each q is the least of what it and all larger ones allow.
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return p[order[i]] < p[order[j]] })
	q := make([]float64, len(p))
	least := 1.0
	for k := len(order) - 1; k >= 0; k-- {
		least = min(least, p[order[k]]*float64(len(p))/float64(k+1))
		q[order[k]] = least
	}
	return q
}

// verdict sums up one drive.
func (e *evidence) verdict(columns int) Verdict {
	// Shares of cells say where on the map it is right, shares of time how much of the driving
	// that was: a cell that is passed through once counts little there.
	v := Verdict{Bound: e.bound, CellShare: none, TimeShare: none}
	var time, within, sum float64
	cells := 0
	for i, c := range e.cells {
		m := c.mean
		if math.IsNaN(m) {
			continue
		}
		v.CellsKnown++
		time += c.count
		sum += float64(m * c.count)
		if math.Abs(m) <= v.Bound {
			cells++
			within += c.count
		}
		if v.CellsKnown == 1 || math.Abs(m) > math.Abs(v.Worst) {
			v.Worst, v.WorstAt = m, [2]int{i / columns, i % columns}
		}
	}
	if v.CellsKnown > 0 {
		v.Mean = sum / time
		if v.Bound > 0 {
			v.CellShare, v.TimeShare = tables.Number(float64(cells)/float64(v.CellsKnown)), tables.Number(within/time)
		}
	}
	return v
}
