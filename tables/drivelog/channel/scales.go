package channel

import (
	"fmt"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// settleLambda tells lambda from an air/fuel ratio, by the unit or by the
// numbers: no lambda is above 5, no air/fuel ratio under it.
func (c *Column) settleLambda(s *Settings) {
	u, _ := unit.Parse(c.LogUnit)
	k, _ := Lookup(c.Name)
	// A gauge that is off or warming up shows 0, which says nothing of its scale.
	typical := c.Seen.Mean()
	if c.Seen.Count > c.Seen.Zeros {
		typical *= float64(c.Seen.Count) / float64(c.Seen.Count-c.Seen.Zeros)
	}
	ratio := u.Dimension() == unit.AirFuelRatio
	_, fits := k.convert(c.LogUnit)
	near := tables.Digits(typical, 5)
	switch {
	case c.LogUnit != "" && !ratio && !fits:
		c.misfit(k)
	case ratio && typical < 3:
		c.Bad = fmt.Sprintf("its numbers near %s are no air/fuel ratio: --channel-unit %s=lambda", near, c.Name)
	case ratio:
		c.divideBy(s, "is an air/fuel ratio")
	case u.Dimension() == unit.Lambda && typical < 5: // as it says
	case typical > 7: // the header says lambda, or nothing
		c.divideBy(s, fmt.Sprintf("near %s is an air/fuel ratio, whatever its header says", near))
	case typical > 3:
		c.Bad = fmt.Sprintf("its numbers near %s are neither lambda nor an air/fuel ratio: --channel-unit %s=lambda or AFR", near, c.Name)
	default:
		c.Assumed = c.LogUnit == ""
	}
}

// divideBy makes lambda of an air/fuel ratio: a gauge's by the gauge's own at
// lambda 1, the command by the controller's.
func (c *Column) divideBy(s *Settings, why string) {
	stoich, from := s.GaugeStoich, "--gauge-stoich"
	if c.Name == "lambda_commanded" {
		stoich, from = s.Stoich, s.StoichFrom
	}
	c.LogUnit, c.Conv = "AFR", unit.Conversion{Mul: 1, Div: stoich}
	c.Note = fmt.Sprintf("%s: %s %s, divided by %s (%s)", c.Name, tables.Quote(c.Text), why, tables.Digits(stoich, 5), from)
}

// SettleAll decides units and scales, of trims together, since a logger writes all
// of them one way.
func SettleAll(cols []*Column, s *Settings) {
	// Trims that hardly move in the first rows are read as those that do.
	certain := map[trimGuess]bool{} // how some of the trims are surely written
	for _, c := range cols {
		if IsTrim(c.Name) {
			if c.LogUnit = c.Heading.Unit; c.Seen.Count > 0 {
				certain[c.GuessTrim()] = true
			}
		}
	}
	for _, c := range cols {
		c.settle(s, certain)
	}
}

// trimScales are the ways in which trims are written: what is no correction, how many
// percent one is, and how that is reported where the numbers alone tell it.
var trimScales = map[trimGuess]struct {
	unit.Conversion
	note string
}{
	TrimUnknown: {Conversion: AsWritten},
	TrimPercent: {Conversion: AsWritten},
	TrimFactor:  {unit.Conversion{From: 1, Mul: 100, Div: 1}, "a factor, 1 is no correction"},
	trimHundred: {unit.Conversion{From: 100, Mul: 1, Div: 1}, "100 is no correction"},
	trimShare:   {unit.Conversion{Mul: 100, Div: 1}, "a share, 0.01 is 1 %"},
}

// settleTrim tells percent from a factor near 1, per cent near 100 and a share
// near 0. What the person told holds. Two logs that differ in scale alone look alike
// for a while; so what was taken from the numbers is reported, and what stays open is
// refused.
func (c *Column) settleTrim(certain map[trimGuess]bool, given bool) {
	u, _ := unit.Parse(c.LogUnit)
	ratio := u.Name() == "1"
	asked := TrimPercent
	switch {
	case given && c.LogUnit == "hundred":
		asked, c.LogUnit = trimHundred, "%"
	case given && c.LogUnit == "share":
		asked, c.LogUnit = trimShare, "1"
	case given && ratio:
		asked = TrimFactor
	case c.LogUnit != "" && !ratio && u.Name() != "%":
		k, _ := Lookup(c.Name)
		c.misfit(k)
		return
	}
	if given {
		c.Conv = trimScales[asked].Conversion
		return
	}
	c.Assumed = c.LogUnit == ""
	guess := c.trimScale(certain, ratio)
	scale := trimScales[guess]
	c.Conv = scale.Conversion
	from, to := tables.Digits(c.Seen.Min, 5), tables.Digits(c.Seen.Max, 5)
	switch {
	case guess == TrimUnknown:
		what, words := "percent, a factor or per cent near 100", "%, factor or hundred"
		if c.MayBeShare() {
			what, words = "percent or a share of 1", "% or share"
		}
		c.Bad = fmt.Sprintf("%s from %s to %s may be %s: --channel-unit %s=%s", tables.Quote(c.Text), from, to, what, c.Name, words)
	case scale.note != "" && (guess != TrimFactor || c.Assumed):
		c.Note = fmt.Sprintf("%s: %s, from the numbers (%s to %s)", c.Name, scale.note, from, to)
	}
}

// trimScale is how the trim is written, by its own numbers or, where those leave it
// open, as the log's other trims surely are.
func (c *Column) trimScale(certain map[trimGuess]bool, ratio bool) trimGuess {
	guess := c.GuessTrim()
	switch {
	case ratio:
		return c.guessRatio()
	case guess == TrimFactor && certain[TrimPercent]:
		return TrimPercent // two steps of a trim may lie on both sides of 1 %
	case guess != TrimUnknown:
		return guess
	case certain[TrimPercent] && !certain[trimHundred] && c.Seen.Max < 50:
		return TrimPercent
	case certain[trimHundred] && !certain[TrimPercent] && !certain[TrimFactor] && c.Seen.Min > 50:
		return trimHundred
	case certain[TrimFactor] && !certain[TrimPercent] && !certain[trimHundred] && c.LogUnit == "" && c.Seen.Min > 0.5:
		return TrimFactor
	case c.LogUnit == "%" && !c.MayBeShare() && (c.Told || c.Seen.Max < 50 && !(c.Seen.above > 0 && c.Seen.below > 0)):
		return TrimPercent // nobody writes a factor's unit so
	}
	return TrimUnknown
}

// trimGuess is how a trim may be written.
type trimGuess int

// The ways: percent, a factor around 1, a factor around 100, a share. Unknown is
// where the numbers fit more than one.
const (
	TrimUnknown trimGuess = iota
	TrimPercent
	TrimFactor
	trimHundred
	trimShare
)

// mostShare is the largest trim, as a share of 1, that a controller gives; a
// short trim in percent that never leaves this band hardly moves at all.
const mostShare = 0.4

// MayBeShare reports whether all of a trim's numbers are as small as shares are.
func (c *Column) MayBeShare() bool {
	s := &c.Seen
	return s.Count > s.Zeros && s.Min >= -mostShare && s.Max <= mostShare
}

// The bands of percent and factor overlap: 1.02 is a factor of a healthy engine, and 1 % and
// two hundredths. Only numbers that leave the other's band, or swing about 1, tell.

// GuessTrim reports how a trim is written where its numbers leave no doubt: a
// percentage reaches zero or below, or leaves the band of the others; a factor
// moves a little to both sides of 1; per cent near 100 stays over 50. A unit of
// percent is believed of small numbers with up to two decimals, not of 0.0765,
// which a spreadsheet may mean as 7.65 %.
func (c *Column) GuessTrim() trimGuess {
	s := &c.Seen
	switch {
	case s.Count == s.Zeros:
		return TrimPercent // nothing to read wrongly
	case c.MayBeShare():
		if c.LogUnit == "%" && c.Places < 3 {
			return TrimPercent
		}
	case s.Min <= 0 || s.Max > 1.6 && s.Min < 50:
		return TrimPercent
	case s.Min >= 50:
		if s.Max <= 200 {
			return trimHundred
		}
	case c.LogUnit == "" && s.above > 0 && s.below > 0 && s.Min > 0.7 && s.Max < 1.4:
		return TrimFactor
	}
	return TrimUnknown
}

// guessRatio is guessTrim of a trim whose unit is 1: a share near 0 or a factor
// near 1.
func (c *Column) guessRatio() trimGuess {
	switch s := &c.Seen; {
	case s.Min >= -mostShare && s.Max <= mostShare:
		return trimShare
	case s.Min > 0.5 && s.Max < 2:
		return TrimFactor
	}
	return TrimUnknown
}

// A gauge pressure read as an absolute one puts every sample into the wrong cell, and no
// later step would notice.

// settlePressure refuses a manifold pressure of which a good part is no absolute
// one. Single readings of zero or less are faults of their own.
func (c *Column) settlePressure() {
	u, _ := unit.Parse(c.LogUnit)
	c.Absolute = c.Name == "manifold_pressure" || c.Name == "barometric_pressure" || c.Name == "rail_pressure" && u.Dimension() == unit.AbsolutePressure
	s := &c.Seen
	if what := ""; c.Name == "manifold_pressure" && s.Count > 0 {
		switch {
		case s.below0 > 0 && 10*(s.below0+s.Zeros) > s.Count:
			what = fmt.Sprintf("it goes down to %s kPa", tables.Digits(c.Conv.Apply(s.Min), 5))
		case c.Falls:
			what = "it falls where the throttle opens"
		default:
			return
		}
		c.Bad = what + ", so it is a vacuum or a gauge pressure, not an absolute one: " +
			"--channel gauge=HEADER and --let manifold_pressure='101.3 + gauge', or '101.3 - gauge' of a vacuum"
	}
}
