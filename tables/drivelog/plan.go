package drivelog

import (
	"maps"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/formula"
)

// plan is what a query needs of a log: its inputs, which are columns, and the
// programs that compute its values from them.
type plan struct {
	l       *Log
	inputs  []*channel.Column
	listed  tables.Notes
	assumed tables.Notes               // channels with the units that are assumed
	checks  []func(f *workFrame) error // of inputs, while they are read
	touched map[int]bool               // inputs used by the value being compiled; timeInput for the clock
	known   map[meaning]*computed
}

// computed is a value that has a name, compiled and computed once however often it is used.
type computed struct {
	run     formula.Node
	touched map[int]bool
}

// timeInput stands for the clock among a value's inputs: it is read anew at each row.
const timeInput = -1

// newPlan begins a plan; what was assumed of the log as a whole is reported by each.
func (l *Log) newPlan() *plan {
	return &plan{l: l, known: map[meaning]*computed{}, listed: slices.Clone(l.notes)}
}

// assume notes what is assumed of a column that is used.
func (p *plan) assume(c *channel.Column) {
	if a := c.Assumption(); a != "" {
		p.assumed.Add(a)
	}
	if c.Note != "" {
		p.listed.Add(c.Note)
	}
}

// notes are what was assumed, the units in one sentence.
func (p *plan) notes() []string {
	if len(p.assumed) == 0 {
		return p.listed
	}
	return append([]string{"the log gives no unit; assumed: " + strings.Join(p.assumed, ", ")}, p.listed...)
}

// program is one value of a query: how it is computed, and from which inputs.
type program struct {
	run    formula.Node
	inputs []int
}

// compile compiles one column of a query, of which a channel's name is the simplest.
func (p *plan) compile(column string) (*program, error) {
	p.touched = map[int]bool{}
	run, err := p.expression(column, len(p.l.opt.Let))
	if err != nil {
		return nil, err
	}
	return &program{run, slices.Sorted(maps.Keys(p.touched))}, nil
}

// meaning is what a name stands for: a definition, by its place, or −1 for the log's own.
type meaning struct {
	name string
	let  int
}

// value compiles a name: a definition before level, a logged channel, or what is
// derived from those.
func (p *plan) value(name string, level int) (formula.Node, error) {
	as := meaning{name, level - 1}
	for as.let >= 0 && p.l.opt.Let[as.let].Name != name {
		as.let--
	}
	switch c, k := p.l.column(name), p.l.conflict(name); {
	case as.let >= 0:
	case name == "time" && p.l.clockErr != nil:
		return nil, p.l.clockErr
	case name == "time":
		p.touched[timeInput] = true
		return func(m *formula.Machine) []float64 { return m.Time }, nil
	case c != nil:
		return p.input(c)
	case k != nil:
		return nil, p.l.inHeader("%s", k.Text())
	}
	return p.computed(as)
}

// expression compiles text over the names that a definition at level may use.
func (p *plan) expression(src string, level int) (formula.Node, error) {
	return formula.Compile(src, func(name string) (formula.Node, error) { return p.value(name, level) })
}

// computed compiles what is no column: a definition, which sees those before it, or a
// derived channel.
func (p *plan) computed(as meaning) (formula.Node, error) {
	c := p.known[as]
	if c == nil {
		outer := p.touched // which inputs it uses is kept with it, for its next use
		p.touched = map[int]bool{}
		run, err := p.compute(as)
		if err != nil {
			return nil, err
		}
		c = &computed{formula.Once(run), p.touched}
		p.known[as], p.touched = c, outer
	}
	maps.Copy(p.touched, c.touched)
	return c.run, nil
}

func (p *plan) compute(as meaning) (formula.Node, error) {
	if as.let >= 0 {
		return p.expression(p.l.opt.Let[as.let].Expr, as.let)
	}
	if e := p.l.opt.EffectivePulse; e != nil && as.name == "effective_pulse" {
		return p.pulse(e)
	}
	src, err := p.builtin(as.name)
	if err != nil {
		return nil, err
	}
	return p.expression(src, 0)
}

// pulse compiles the effective pulse, which the caller computes row by row.
func (p *plan) pulse(e *EffectivePulse) (formula.Node, error) {
	in := make([]formula.Node, len(e.Inputs))
	for k, name := range e.Inputs {
		var err error
		if in[k], err = p.value(name, 0); err != nil {
			return nil, err
		}
	}
	return formula.Rows(in, e.Func), nil
}

// input makes a column an input of the plan.
func (p *plan) input(c *channel.Column) (formula.Node, error) {
	late := c.Name == "knock_retard" && slices.Contains(p.l.open, c)
	if !late {
		if err := p.l.sure(c); err != nil {
			return nil, err
		}
	}
	if c.Bad != "" {
		return nil, p.l.inHeader("column %s: %s", tables.Quote(c.Text), c.Bad)
	}
	k := slices.Index(p.inputs, c)
	if k < 0 {
		k = len(p.inputs)
		if p.inputs = append(p.inputs, c); late {
			p.checks = append(p.checks, p.findSign(c, k))
		}
	}
	p.assume(c)
	p.touched[k] = true
	return func(m *formula.Machine) []float64 { return m.In[k] }, nil
}

// Has reports whether a channel is logged or can be derived.
func (l *Log) Has(name string) bool { return formula.IsName(name) && l.Resolve(name) == nil }

// Logged reports whether a channel is a column of the log itself, not derived.
func (l *Log) Logged(name string) bool { return l.column(name) != nil }

// Resolve is nil where the log can answer an expression, and the clear line
// that says why not where it cannot.
func (l *Log) Resolve(expr string) error {
	if l.clockErr != nil {
		return l.clockErr
	}
	_, err := l.newPlan().compile(expr)
	return err
}
