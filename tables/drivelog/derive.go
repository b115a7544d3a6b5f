package drivelog

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/formula"
	"calsplice/tables/unit"
)

// plan is what a query needs of a log: its inputs, which are columns, and the
// programs that compute its values from them.
type plan struct {
	l       *Log
	inputs  []*channel.Column
	said    []string
	assumed []string // channels with the units that are assumed
	rail    int      // input that must stay below a port injector's rail pressure; -1
	stack   []string
	touched map[int]bool     // inputs used by the value being compiled; timeInput for the clock
	defined map[int]*defined // by place among Options.Let
}

// defined is a definition, compiled once however often it is used.
type defined struct {
	run     formula.Node
	touched map[int]bool
}

const timeInput = -1

var errCircle = errors.New("it is defined by itself")

func (l *Log) newPlan() *plan {
	return &plan{l: l, rail: -1, defined: map[int]*defined{}, said: slices.Clone(l.said)}
}

// assume notes what is assumed of a column that is used.
func (p *plan) assume(c *channel.Column) {
	if a := c.Assumption(); a != "" && !slices.Contains(p.assumed, a) {
		p.assumed = append(p.assumed, a)
	}
	if c.Said != "" {
		p.say("%s", c.Said)
	}
}

// notes are what was assumed, the units in one sentence.
func (p *plan) notes() []string {
	if len(p.assumed) == 0 {
		return p.said
	}
	return append([]string{"the log gives no unit; assumed: " + strings.Join(p.assumed, ", ")}, p.said...)
}

func (p *plan) say(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); !slices.Contains(p.said, s) {
		p.said = append(p.said, s)
	}
}

// program is one value of a query: how it is computed, and from which inputs.
type program struct {
	run    formula.Node
	inputs []int
}

// compile compiles one column of a query: a channel's name or an expression.
func (p *plan) compile(column string) (*program, error) {
	p.touched = map[int]bool{}
	var run formula.Node
	var err error
	if level := len(p.l.opt.Let); formula.IsName(column) {
		run, err = p.value(column, level)
	} else {
		run, err = p.expression(column, level)
	}
	if err != nil {
		return nil, err
	}
	pr := &program{run: run}
	for k := range p.touched {
		pr.inputs = append(pr.inputs, k)
	}
	slices.Sort(pr.inputs)
	return pr, nil
}

// value compiles a name: a definition before level, what the caller derives, a
// logged channel, or what is derived from those.
func (p *plan) value(name string, level int) (formula.Node, error) {
	for i := level - 1; i >= 0; i-- {
		if d := p.l.opt.Let[i]; d.Name == name {
			return p.definition(i)
		}
	}
	above := 0 // how often the name is being compiled already
	for _, s := range p.stack {
		if s == name {
			above++
		}
	}
	if above > 1 {
		return nil, fmt.Errorf("%s: %w", name, errCircle)
	}
	p.stack = append(p.stack, name)
	defer func() { p.stack = p.stack[:len(p.stack)-1] }()
	for _, d := range p.l.opt.Derived {
		if d.Name == name && above == 0 { // its own inputs may be the logged channel that it hides
			return p.callers(d)
		}
	}
	if name == "time" {
		if p.l.clockErr != nil {
			return nil, p.l.clockErr
		}
		p.touched[timeInput] = true
		return func(m *formula.Machine) []float64 { return m.Time }, nil
	}
	if c := p.l.column(name); c != nil {
		return p.input(c)
	}
	for _, k := range p.l.conflicts {
		if k.Channel == name {
			return nil, p.l.inHeader("%s", k.Text())
		}
	}
	src, err := p.builtin(name)
	if err != nil {
		return nil, err
	}
	return p.expression(src, 0)
}

// expression compiles text over the names that a definition at level may use.
func (p *plan) expression(src string, level int) (formula.Node, error) {
	return formula.Compile(src, func(name string) (formula.Node, error) { return p.value(name, level) })
}

// definition compiles one of Options.Let, which sees those before it.
func (p *plan) definition(i int) (formula.Node, error) {
	d := p.defined[i]
	if d == nil {
		outer := p.touched
		p.touched = map[int]bool{}
		run, err := p.expression(p.l.opt.Let[i].Expr, i)
		if err != nil {
			return nil, err
		}
		d = &defined{formula.Once(run), p.touched}
		p.defined[i], p.touched = d, outer
	}
	maps.Copy(p.touched, d.touched)
	return d.run, nil
}

// callers compiles a value that the caller computes row by row.
func (p *plan) callers(d Derived) (formula.Node, error) {
	in := make([]formula.Node, len(d.Inputs))
	for k, name := range d.Inputs {
		var err error
		if in[k], err = p.value(name, 0); err != nil {
			return nil, err
		}
	}
	return formula.Rows(in, d.Func), nil
}

// input makes a column an input of the plan.
func (p *plan) input(c *channel.Column) (formula.Node, error) {
	if err := p.l.sure(c); err != nil {
		return nil, err
	}
	if c.Bad != "" {
		return nil, p.l.inHeader("column %s: %s", tables.Quote(c.Text), c.Bad)
	}
	k := slices.Index(p.inputs, c)
	if k < 0 {
		k = len(p.inputs)
		p.inputs = append(p.inputs, c)
	}
	p.assume(c)
	p.touched[k] = true
	return func(m *formula.Machine) []float64 { return m.In[k] }, nil
}

func (p *plan) has(name string) bool { return p.l.column(name) != nil }

// read reports whether a channel is logged and was read at all.
func (p *plan) read(name string) bool {
	c := p.l.column(name)
	return c != nil && p.l.sure(c) == nil && c.Seen.Count > 0 && !(c.Absolute && c.Seen.Max <= 0)
}

// builtin is a derived channel as an expression over others.
func (p *plan) builtin(name string) (string, error) {
	const one = "((1 + short_trim_%[1]d / 100) * (1 + long_trim_%[1]d / 100) - 1) * 100"
	e := p.l.opt.Engine
	switch name {
	case "trim_1":
		return p.bankTrim(1, one)
	case "trim_2":
		return p.bankTrim(2, one)
	case "trim":
		b1, b2 := p.read("short_trim_1") || p.read("long_trim_1"), p.read("short_trim_2") || p.read("long_trim_2")
		switch {
		case b1 && b2:
			return "(trim_1 + trim_2) / 2", nil
		case b2:
			return "trim_2", nil
		}
		return "trim_1", nil
	case "manifold_vacuum":
		return p.barometer() + " - manifold_pressure", nil
	case "duty":
		strokes, pulses := 4, 1
		if e != nil && e.Strokes > 0 {
			strokes = e.Strokes
		} else {
			p.say("duty: four strokes are assumed")
		}
		if e != nil && e.PulsesPerCycle > 0 {
			pulses = e.PulsesPerCycle
		} else {
			p.say("duty: one pulse a cycle is assumed")
		}
		return fmt.Sprintf("pulse_width * engine_speed * %d / %d", pulses, 300*strokes), nil
	case "differential_pressure":
		return p.differential()
	case "mixture_error":
		if !p.has("short_trim_1") && !p.has("long_trim_1") {
			p.say("mixture_error: no trim is logged, 0 is taken")
			return "(lambda / lambda_commanded - 1) * 100", nil
		}
		return "((1 + trim / 100) * lambda / lambda_commanded - 1) * 100", nil
	case "air_flow":
		if p.has("air_charge") {
			return p.flowFromCharge()
		}
	case "effective_pulse":
		return "", fmt.Errorf("effective_pulse needs the injector offset of a calibration")
	}
	return "", p.unknown(name)
}

func (p *plan) bankTrim(bank int, both string) (string, error) {
	s, l := fmt.Sprintf("short_trim_%d", bank), fmt.Sprintf("long_trim_%d", bank)
	switch {
	case p.has(s) && !p.has(l) && !p.inConflict(l):
		p.say("trim_%d: no long trim is logged, the short one stands alone", bank)
		return s, nil
	case p.has(l) && !p.has(s) && !p.inConflict(s):
		p.say("trim_%d: no short trim is logged, the long one stands alone", bank)
		return l, nil
	}
	return fmt.Sprintf(both, bank), nil
}

func (p *plan) inConflict(name string) bool {
	return slices.ContainsFunc(p.l.conflicts, func(k channel.Conflict) bool { return k.Channel == name })
}

// barometer is the logged barometric pressure, or the standard atmosphere.
func (p *plan) barometer() string {
	if p.read("barometric_pressure") || p.inConflict("barometric_pressure") {
		return "barometric_pressure"
	}
	p.say("no barometric pressure is logged, 101.325 kPa is assumed")
	return tables.FormatValue(unit.Atmosphere)
}

// differential is what drives fuel through an injector, by what the rail
// pressure is measured against.
func (p *plan) differential() (string, error) {
	var nominal *tables.RailPressure
	if p.l.opt.Engine != nil {
		nominal = p.l.opt.Engine.RailPressure
	}
	against, rail := tables.Atmosphere, ""
	if nominal != nil {
		against = nominal.RelativeTo
	}
	switch c := p.l.column("rail_pressure"); {
	case c != nil || p.inConflict("rail_pressure"):
		rail = "rail_pressure"
		if c != nil {
			if _, err := p.input(c); err != nil {
				return "", err
			}
			p.rail = slices.Index(p.inputs, c)
			switch u, _ := unit.Parse(c.LogUnit); {
			case u.Dimension() == unit.AbsolutePressure:
				against = tables.Absolute
			case u.Dimension() == unit.GaugePressure && against == tables.Absolute:
				against = tables.Atmosphere
			case nominal == nil:
				p.say("rail_pressure is taken as a gauge pressure")
			}
		}
	case nominal == nil:
		return "", fmt.Errorf("differential_pressure needs a rail pressure: the log has none, nor does the calibration")
	default:
		v, err := nominal.KPa()
		if err != nil {
			return "", err
		}
		rail = tables.FormatValue(v)
	}
	switch against {
	case tables.Manifold:
		return rail, nil
	case tables.Absolute:
		return rail + " - manifold_pressure", nil
	}
	return rail + " + " + p.barometer() + " - manifold_pressure", nil
}

// flowFromCharge is air charge × speed, where no air flow is logged.
func (p *plan) flowFromCharge() (string, error) {
	e := p.l.opt.Engine
	if e == nil || e.Cylinders == 0 {
		return "", fmt.Errorf("air_flow from air_charge needs the engine's cylinders: the log has no air flow, and no calibration says how many")
	}
	strokes := 4
	if e.Strokes > 0 {
		strokes = e.Strokes
	} else {
		p.say("air_flow: four strokes are assumed")
	}
	p.say("air_flow: from air charge × speed, %d cylinders", e.Cylinders)
	return fmt.Sprintf("air_charge * engine_speed * %d / %d", e.Cylinders, 30000*strokes), nil
}

// unknown is the error for a name that the log does not have, with the nearest
// one that it does.
func (p *plan) unknown(name string) error {
	if _, ok := channel.Lookup(name); ok {
		return p.l.inHeader("the log has no channel %s: --channel %s=HEADER if it goes by another name", name, name)
	}
	if slices.ContainsFunc(p.l.opt.Let, func(d Definition) bool { return d.Name == name }) {
		return fmt.Errorf("%s is used before its --let defines it: the log has no such channel", name)
	}
	return fmt.Errorf("unknown channel %s%s", tables.Quote(name), channel.DidYouMean(name, p.l.names()))
}

// names lists every name that a query may use.
func (l *Log) names() []string {
	var names []string
	for _, c := range l.cols {
		if c.Name != "" {
			names = append(names, c.Name)
		}
	}
	for _, list := range [][]channel.Channel{channel.Known, channel.DerivedChannels} {
		for _, c := range list {
			names = append(names, c.Name)
		}
	}
	for _, d := range l.opt.Let {
		names = append(names, d.Name)
	}
	for _, d := range l.opt.Derived {
		names = append(names, d.Name)
	}
	return names
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
