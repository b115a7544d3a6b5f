package drivelog

import (
	"fmt"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// settleLambda tells lambda from an air/fuel ratio, by the unit or by the
// numbers: no lambda is above 5, no air/fuel ratio under it.
func (c *column) settleLambda(opt *Options) {
	stoich, flag := opt.gaugeStoich(), "--gauge-stoich"
	if c.name == "lambda_commanded" {
		if stoich, flag = opt.stoich(), "the calibration's stoich_afr"; opt.Stoich == 0 && (opt.Engine == nil || opt.Engine.StoichAFR == 0) {
			flag = "no calibration says otherwise"
		}
	}
	u, isKnown := unit.Parse(c.logUnit)
	k, _ := lookup(c.name)
	typical := c.seen.mean()
	if c.seen.count > c.seen.zeros {
		typical *= float64(c.seen.count) / float64(c.seen.count-c.seen.zeros)
	}
	ratio := isKnown && u.Dimension() == unit.AirFuelRatio
	if _, fits := k.convert(c.logUnit); c.logUnit != "" && !ratio && !fits {
		c.bad = fmt.Sprintf("unit %s does not fit %s", tables.Quote(c.logUnit), c.name)
		return
	}
	why := ""
	switch {
	case ratio && typical < 3:
		c.bad = fmt.Sprintf("its numbers near %s are no air/fuel ratio: --channel-unit %s=lambda", short(typical), c.name)
		return
	case ratio:
		why = "is an air/fuel ratio"
	case isKnown && u.Dimension() == unit.Lambda && typical < 5:
		return
	case typical > 7:
		why = fmt.Sprintf("near %s is an air/fuel ratio, whatever its header says", short(typical))
	case typical > 3:
		c.bad = fmt.Sprintf("its numbers near %s are neither lambda nor an air/fuel ratio: --channel-unit %s=lambda or AFR", short(typical), c.name)
		return
	default:
		if c.logUnit == "" {
			c.assumed = true
			c.said = fmt.Sprintf("%s: the log gives no unit, lambda is assumed", c.name)
		}
		return
	}
	c.logUnit = "AFR"
	c.conv = unit.Conversion{Mul: 1, Div: stoich}
	c.said = fmt.Sprintf("%s: %s %s, divided by %s (%s)", c.name, tables.Quote(c.text), why, short(stoich), flag)
}

// trimScale is how a log's trims are written, as far as its numbers tell.
type trimScale struct {
	percent, factor, hundred bool // certain for one of the trims with that unit text
}

// settleTrim tells percent from a factor near 1 and from per cent near 100.
func (c *column) settleTrim(scale *trimScale) {
	percent := unit.Conversion{Mul: 1, Div: 1}
	factor := unit.Conversion{From: 1, Mul: 100, Div: 1}
	hundred := unit.Conversion{From: 100, Mul: 1, Div: 1}
	u, isKnown := unit.Parse(c.logUnit)
	switch {
	case c.logUnit == "hundred":
		c.conv, c.logUnit = hundred, "%"
		return
	case isKnown && u.Name() == "1":
		c.conv = factor
		return
	case c.logUnit != "" && !(isKnown && u.Name() == "%"):
		c.bad = fmt.Sprintf("unit %s does not fit %s, which is in %%", tables.Quote(c.logUnit), c.name)
		return
	}
	c.assumed = c.logUnit == ""
	guess := c.guessTrim()
	if guess == trimFactor && scale.percent {
		guess = trimPercent // two steps of a trim may lie on both sides of 1 %
	}
	if guess == trimUnknown {
		switch {
		case scale.percent && !scale.hundred && c.seen.max < 50:
			guess = trimPercent
		case scale.hundred && !scale.percent && !scale.factor && c.seen.min > 50:
			guess = trimHundred
		case scale.factor && !scale.percent && !scale.hundred && c.logUnit == "" && c.seen.min > 0.5:
			guess = trimFactor
		case c.logUnit == "%" && (c.told || c.seen.max < 50 && !(c.seen.above > 0 && c.seen.below > 0)):
			guess = trimPercent // nobody writes a factor's unit so
		}
	}
	switch guess {
	case trimHundred:
		c.conv, c.said = hundred, fmt.Sprintf("%s: 100 is no correction, from the numbers (%s to %s)", c.name, short(c.seen.min), short(c.seen.max))
	case trimFactor:
		c.conv, c.said = factor, fmt.Sprintf("%s: a factor, 1 is no correction, from the numbers (%s to %s)", c.name, short(c.seen.min), short(c.seen.max))
	case trimPercent:
		c.conv = percent
		if c.assumed {
			c.said = fmt.Sprintf("%s: the log gives no unit, %% is assumed", c.name)
		}
	default:
		c.bad = fmt.Sprintf("%s from %s to %s may be percent, a factor or per cent near 100: --channel-unit %s=%%, factor or hundred",
			tables.Quote(c.text), short(c.seen.min), short(c.seen.max), c.name)
	}
}

type trimGuess int

const (
	trimUnknown trimGuess = iota
	trimPercent
	trimFactor
	trimHundred
)

// guessTrim tells how a trim is written where its numbers leave no doubt: a
// percentage reaches zero or below, or leaves the band of the others; a factor
// moves a little to both sides of 1; per cent near 100 stays over 50.
func (c *column) guessTrim() trimGuess {
	s := &c.seen
	switch {
	case s.count == 0:
		return trimPercent // nothing to read wrongly
	case s.min <= 0 || s.max > 1.6 && s.min < 50 || s.max < 0.4:
		return trimPercent
	case s.min >= 50:
		if s.max <= 200 {
			return trimHundred
		}
	case c.logUnit == "" && s.above > 0 && s.below > 0 && s.min > 0.7 && s.max < 1.4:
		return trimFactor
	}
	return trimUnknown
}
