package drivelog

import (
	"fmt"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// settleLambda tells lambda from an air/fuel ratio, by the unit or by the
// numbers: no lambda is above 5, no air/fuel ratio under it.
func (c *column) settleLambda(s *Settings) {
	u, known := unit.Parse(c.logUnit)
	k, _ := lookup(c.name)
	typical := c.seen.mean()
	if c.seen.count > c.seen.zeros {
		typical *= float64(c.seen.count) / float64(c.seen.count-c.seen.zeros)
	}
	ratio := known && u.Dimension() == unit.AirFuelRatio
	_, fits := k.convert(c.logUnit)
	near := tables.Digits(typical, 5)
	switch {
	case c.logUnit != "" && !ratio && !fits:
		c.misfit(k)
	case ratio && typical < 3:
		c.bad = fmt.Sprintf("its numbers near %s are no air/fuel ratio: --channel-unit %s=lambda", near, c.name)
	case ratio:
		c.divideBy(s, "is an air/fuel ratio")
	case known && u.Dimension() == unit.Lambda && typical < 5:
	case typical > 7:
		c.divideBy(s, fmt.Sprintf("near %s is an air/fuel ratio, whatever its header says", near))
	case typical > 3:
		c.bad = fmt.Sprintf("its numbers near %s are neither lambda nor an air/fuel ratio: --channel-unit %s=lambda or AFR", near, c.name)
	default:
		c.assumed = c.logUnit == ""
	}
}

// divideBy makes lambda of an air/fuel ratio: a gauge's by the gauge's own at
// lambda 1, the command by the controller's.
func (c *column) divideBy(s *Settings, why string) {
	stoich, from := s.GaugeStoich, "--gauge-stoich"
	if c.name == "lambda_commanded" {
		stoich, from = s.Stoich, s.StoichFrom
	}
	c.logUnit, c.conv = "AFR", unit.Conversion{Mul: 1, Div: stoich}
	c.said = fmt.Sprintf("%s: %s %s, divided by %s (%s)", c.name, tables.Quote(c.text), why, tables.Digits(stoich, 5), from)
}

// settleAll decides units and scales, of trims together, since a logger writes all
// of them one way.
func settleAll(cols []*column, s *Settings) {
	certain := map[trimGuess]bool{} // how some of the trims are surely written
	for _, c := range cols {
		if isTrim(c.name) {
			if c.logUnit = c.heading.unit; c.seen.count > 0 {
				certain[c.guessTrim()] = true
			}
		}
	}
	for _, c := range cols {
		c.settle(s, certain)
	}
}

// How trims are written: what is no correction, and how many percent one is.
var trimScales = map[trimGuess]unit.Conversion{
	trimPercent: {Mul: 1, Div: 1},
	trimFactor:  {From: 1, Mul: 100, Div: 1},
	trimHundred: {From: 100, Mul: 1, Div: 1},
	trimShare:   {Mul: 100, Div: 1},
}

// settleTrim tells percent from a factor near 1, per cent near 100 and a share
// near 0. What the person told holds.
func (c *column) settleTrim(certain map[trimGuess]bool, told bool) {
	u, isKnown := unit.Parse(c.logUnit)
	ratio := isKnown && u.Name() == "1"
	switch {
	case told && c.logUnit == "hundred":
		c.conv, c.logUnit = trimScales[trimHundred], "%"
		return
	case told && c.logUnit == "share":
		c.conv, c.logUnit = trimScales[trimShare], "1"
		return
	case told && ratio:
		c.conv = trimScales[trimFactor]
		return
	case c.logUnit != "" && !ratio && !(isKnown && u.Name() == "%"):
		k, _ := lookup(c.name)
		c.misfit(k)
		return
	case told:
		return
	}
	c.assumed = c.logUnit == ""
	guess := c.guessTrim()
	switch {
	case ratio:
		guess = c.guessRatio()
	case guess == trimFactor && certain[trimPercent]:
		guess = trimPercent // two steps of a trim may lie on both sides of 1 %
	case guess != trimUnknown:
	case certain[trimPercent] && !certain[trimHundred] && c.seen.max < 50:
		guess = trimPercent
	case certain[trimHundred] && !certain[trimPercent] && !certain[trimFactor] && c.seen.min > 50:
		guess = trimHundred
	case certain[trimFactor] && !certain[trimPercent] && !certain[trimHundred] && c.logUnit == "" && c.seen.min > 0.5:
		guess = trimFactor
	case c.logUnit == "%" && !c.mayBeShare() && (c.told || c.seen.max < 50 && !(c.seen.above > 0 && c.seen.below > 0)):
		guess = trimPercent // nobody writes a factor's unit so
	}
	c.conv = trimScales[guess]
	from, to := tables.Digits(c.seen.min, 5), tables.Digits(c.seen.max, 5)
	switch guess {
	case trimHundred:
		c.said = fmt.Sprintf("%s: 100 is no correction, from the numbers (%s to %s)", c.name, from, to)
	case trimFactor:
		if c.assumed {
			c.said = fmt.Sprintf("%s: a factor, 1 is no correction, from the numbers (%s to %s)", c.name, from, to)
		}
	case trimShare:
		c.said = fmt.Sprintf("%s: a share, 0.01 is 1 %%, from the numbers (%s to %s)", c.name, from, to)
	case trimPercent:
	default:
		what, words := "percent, a factor or per cent near 100", "%, factor or hundred"
		if c.mayBeShare() {
			what, words = "percent or a share of 1", "% or share"
		}
		c.bad = fmt.Sprintf("%s from %s to %s may be %s: --channel-unit %s=%s", tables.Quote(c.text), from, to, what, c.name, words)
	}
}

type trimGuess int

const (
	trimUnknown trimGuess = iota
	trimPercent
	trimFactor
	trimHundred
	trimShare
)

// mostShare is the largest trim, as a share of 1, that a controller gives; a
// short trim in percent that never leaves this band hardly moves at all.
const mostShare = 0.4

// mayBeShare reports whether all of a trim's numbers are as small as shares are.
func (c *column) mayBeShare() bool {
	s := &c.seen
	return s.count > s.zeros && s.min >= -mostShare && s.max <= mostShare
}

// guessTrim tells how a trim is written where its numbers leave no doubt: a
// percentage reaches zero or below, or leaves the band of the others; a factor
// moves a little to both sides of 1; per cent near 100 stays over 50. A unit of
// percent is believed of small numbers with up to two decimals, not of 0.0765,
// which a spreadsheet may mean as 7.65 %.
func (c *column) guessTrim() trimGuess {
	s := &c.seen
	switch {
	case s.count == s.zeros:
		return trimPercent // nothing to read wrongly
	case c.mayBeShare():
		if c.logUnit == "%" && c.places < 3 {
			return trimPercent
		}
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

// guessRatio is guessTrim of a trim whose unit is 1: a share near 0 or a factor
// near 1.
func (c *column) guessRatio() trimGuess {
	switch s := &c.seen; {
	case s.min >= -mostShare && s.max <= mostShare:
		return trimShare
	case s.min > 0.5 && s.max < 2:
		return trimFactor
	}
	return trimUnknown
}

// settlePressure refuses a manifold pressure of which a good part is no absolute
// one. Single readings of zero or less are faults of their own.
func (c *column) settlePressure() {
	u, _ := unit.Parse(c.logUnit)
	c.absolute = c.name == "manifold_pressure" || c.name == "barometric_pressure" || c.name == "rail_pressure" && u.Dimension() == unit.AbsolutePressure
	s := &c.seen
	if what := ""; c.name == "manifold_pressure" && s.count > 0 {
		switch {
		case s.below0 > 0 && 10*(s.below0+s.zeros) > s.count:
			what = fmt.Sprintf("it goes down to %s kPa", tables.Digits(c.conv.Apply(s.min), 5))
		case c.falls:
			what = "it falls where the throttle opens"
		default:
			return
		}
		c.bad = what + ", so it is a vacuum or a gauge pressure, not an absolute one: " +
			"--channel gauge=HEADER and --let manifold_pressure='101.3 + gauge', or '101.3 - gauge' of a vacuum"
	}
}
