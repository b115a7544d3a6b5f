package drivelog

import (
	"errors"
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/unit"
)

// Derived channels are expressions over others, which are compiled like a person's
// own. Which expression it is depends on what the log and the calibration hold;
// what is taken for want of a better is reported.

// builtin is a derived channel as an expression over others.
func (p *plan) builtin(name string) (string, error) {
	switch name {
	case "trim_1":
		return p.bankTrim(1), nil
	case "trim_2":
		return p.bankTrim(2), nil
	case "trim":
		return p.trim(), nil
	case "manifold_vacuum":
		return p.barometer() + " - manifold_pressure", nil
	case "duty": // a pulse's share of the time between two
		pulses := p.orAssumed(name, "one pulse a cycle is", p.engine().PulsesPerCycle, 1)
		return fmt.Sprintf("pulse_width * engine_speed * %d / %d", pulses, 300*p.strokes(name)), nil
	case "differential_pressure":
		return p.differential()
	case "mixture_error":
		if !p.has("short_trim_1") && !p.has("long_trim_1") {
			p.listed.Add("mixture_error: no trim is logged, 0 is taken")
			return "(lambda / lambda_commanded - 1) * 100", nil
		}
		return "((1 + trim / 100) * lambda / lambda_commanded - 1) * 100", nil
	case "air_flow":
		if p.has("air_charge") {
			return p.flowFromCharge()
		}
	case "effective_pulse":
		return "", errors.New("effective_pulse needs the injector offset of a calibration")
	}
	return "", p.unknown(name)
}

// engine is what is known of the engine, perhaps nothing.
func (p *plan) engine() *tables.Engine {
	if e := p.l.opt.Engine; e != nil {
		return e
	}
	return &tables.Engine{}
}

// orAssumed is a fact of the engine, or the usual one, which is then said.
func (p *plan) orAssumed(channel, what string, fact, usual int) int {
	if fact > 0 {
		return fact
	}
	p.listed.Addf("%s: %s assumed", channel, what)
	return usual
}

// strokes is how many the engine has to a cycle; almost all have four.
func (p *plan) strokes(channel string) int {
	return p.orAssumed(channel, "four strokes are", p.engine().Strokes, 4)
}

// has reports whether a channel is a column of the log, read or not.
func (p *plan) has(name string) bool { return p.l.column(name) != nil }

// read reports whether a channel is logged and was read at all.
func (p *plan) read(name string) bool {
	c := p.l.column(name)
	return c != nil && p.l.sure(c) == nil && c.Seen.Count > 0 && !(c.Absolute && c.Seen.Max <= 0)
}

// inConflict reports whether several columns claim a channel. It is then neither
// logged nor missing: whoever needs it is told to choose.
func (p *plan) inConflict(name string) bool { return p.l.conflict(name) != nil }

// trim is what both banks have in common, or the only one that was read.
func (p *plan) trim() string {
	first := p.read("short_trim_1") || p.read("long_trim_1")
	second := p.read("short_trim_2") || p.read("long_trim_2")
	switch {
	case first && second:
		return "(trim_1 + trim_2) / 2"
	case second:
		return "trim_2"
	}
	return "trim_1"
}

// bankTrim is short × long, or the one that is logged. Where the other is missing
// because two columns claim it, that has to be settled first.
func (p *plan) bankTrim(bank int) string {
	short, long := fmt.Sprintf("short_trim_%d", bank), fmt.Sprintf("long_trim_%d", bank)
	// A trim that two columns claim is there, and only a choice is missing.
	for _, c := range []struct{ one, other, lacks, stays string }{{short, long, "long", "short"}, {long, short, "short", "long"}} {
		if p.has(c.one) && !p.has(c.other) && !p.inConflict(c.other) {
			p.listed.Addf("trim_%d: no %s trim is logged, the %s one stands alone", bank, c.lacks, c.stays)
			return c.one
		}
	}
	return fmt.Sprintf("((1 + %s / 100) * (1 + %s / 100) - 1) * 100", short, long)
}

// barometer is the logged barometric pressure, or the standard atmosphere.
func (p *plan) barometer() string {
	if p.read("barometric_pressure") || p.inConflict("barometric_pressure") {
		return "barometric_pressure"
	}
	p.listed.Add("no barometric pressure is logged, 101.325 kPa is assumed")
	return tables.FormatValue(unit.Atmosphere)
}

// differential is what drives fuel through an injector, by what the rail
// pressure is measured against.
func (p *plan) differential() (string, error) {
	rail, against, err := p.railPressure()
	switch {
	case err != nil:
		return "", err
	case against == tables.Manifold:
		return rail, nil
	case against == tables.Absolute:
		return rail + " - manifold_pressure", nil
	}
	return rail + " + " + p.barometer() + " - manifold_pressure", nil
}

// railPressure is the logged rail pressure or else the calibration's, and what it
// is measured against: as the log's unit says, or else as the calibration does.
func (p *plan) railPressure() (rail string, against tables.Reference, err error) {
	nominal := p.engine().RailPressure
	against = tables.Atmosphere
	if nominal != nil {
		against = nominal.RelativeTo
	}
	c := p.l.column("rail_pressure")
	switch {
	case c != nil:
	case p.inConflict("rail_pressure"):
		return "rail_pressure", against, nil // which is refused with the columns' names
	case nominal == nil:
		return "", against, errors.New("differential_pressure needs a rail pressure: the log has none, nor does the calibration")
	default:
		v, err := nominal.KPa()
		return tables.FormatValue(v), against, err
	}
	if _, err := p.input(c); err != nil {
		return "", against, err
	}
	p.checks = append(p.checks, p.railBound(slices.Index(p.inputs, c)))
	switch u, _ := unit.Parse(c.LogUnit); {
	case u.Dimension() == unit.AbsolutePressure:
		against = tables.Absolute
	case u.Dimension() == unit.GaugePressure && against == tables.Absolute:
		against = tables.Atmosphere
	case nominal == nil:
		p.listed.Add("rail_pressure is taken as a gauge pressure")
	}
	return "rail_pressure", against, nil
}

// railBound refuses a rail pressure, input k, that no port injection has.
func (p *plan) railBound(k int) func(f *workFrame) error {
	return func(f *workFrame) error {
		for i, v := range f.machine.In[k] {
			if v > tables.MaxRailPressure {
				return &tables.Fault{File: p.l.name, Line: f.Line[i], What: "a rail pressure of " + tables.Digits(v, 5) +
					" kPa is no port injection's: up to " + tables.Digits(tables.MaxRailPressure, 5) + " is read"}
			}
		}
		return nil
	}
}

// flowFromCharge is air charge × speed, where no air flow is logged.
func (p *plan) flowFromCharge() (string, error) {
	cylinders := p.engine().Cylinders
	if cylinders == 0 {
		return "", errors.New("air_flow from air_charge needs the engine's cylinders: the log has no air flow, and no calibration says how many")
	}
	strokes := p.strokes("air_flow")
	p.listed.Addf("air_flow: from air charge × speed, %d cylinders", cylinders)
	return fmt.Sprintf("air_charge * engine_speed * %d / %d", cylinders, 30000*strokes), nil
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
	logged, derived := channel.Names()
	names := slices.Concat(derived, logged)
	for _, c := range l.cols {
		if c.Name != "" {
			names = append(names, c.Name)
		}
	}
	for _, d := range l.opt.Let {
		names = append(names, d.Name)
	}
	return names
}
