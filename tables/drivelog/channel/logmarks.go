package channel

import (
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/unit"
)

// DecideMarks gives each column its decimal mark: its own, where a cell of it can be
// read no other way, else the one that the log's channels prove, or all of its
// columns where no channel does. Columns that prove another by several cells
// together stay undecided.
func DecideMarks(cols []*Column) byte {
	log := provenMark(cols)
	for _, c := range cols {
		mark, strong := c.Proof.Own()
		if mark == dialect.Undecided {
			mark = c.possibleMark()
		}
		switch {
		case strong, log == dialect.Undecided:
			c.Decimal = mark
		case mark == dialect.Undecided || mark == log:
			c.Decimal = log
		default:
			c.Decimal = dialect.Undecided
		}
	}
	return log
}

// One logger writes one mark: so what one channel proves holds for the others. But columns of
// text, dates and version numbers prove nothing of numbers, so channels are asked first.

// provenMark is the one mark that the channels prove, or the other columns where
// no channel proves any.
func provenMark(cols []*Column) byte {
	for _, channels := range []bool{true, false} {
		found := map[byte]bool{}
		for _, c := range cols {
			if mark, strong := c.Proof.Own(); strong && (c.Channel != "") == channels {
				found[mark] = true
			}
		}
		// Channels that prove both marks prove nothing of the log: then it is open.
		switch {
		case found['.'] && found[',']:
			return dialect.Undecided
		case found['.']:
			return '.'
		case found[',']:
			return ','
		}
	}
	return dialect.Undecided
}

// possibleMark is the mark of a channel whose cells in question make sense one
// way only: what never reaches 1000 is not grouped in thousands, and no engine
// turns at less than 100 r/min as a rule.
func (c *Column) possibleMark() byte {
	_, itself, other := c.Proof.InQuestion()
	// In another unit than the channel's own, how large its numbers get is not known.
	k, _ := Lookup(c.Channel)
	if u := c.Heading.Unit; u != "" {
		if written, ok := unit.Parse(u); !ok || written.Name() != k.unit {
			return dialect.Undecided
		}
	}
	switch {
	case c.Channel == "engine_speed":
		return other
	case k.small:
		return itself
	}
	return dialect.Undecided
}
