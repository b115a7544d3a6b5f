package drivelog

import "calsplice/tables/unit"

// decideMarks gives each column its decimal mark: its own, where a cell of it can be
// read no other way, else the one that the log's channels prove, or all of its
// columns where no channel does. Columns that prove another by several cells
// together stay undecided.
func decideMarks(cols []*column) byte {
	log := provenMark(cols)
	for _, c := range cols {
		mark, strong := c.proof.own()
		if mark == undecided {
			mark = c.possibleMark()
		}
		switch {
		case strong, log == undecided:
			c.decimal = mark
		case mark == undecided || mark == log:
			c.decimal = log
		default:
			c.decimal = undecided
		}
	}
	return log
}

// provenMark is the one mark that the channels prove, or the other columns where
// no channel proves any.
func provenMark(cols []*column) byte {
	for _, channels := range []bool{true, false} {
		found := map[byte]bool{}
		for _, c := range cols {
			if mark, strong := c.proof.own(); strong && (c.channel != "") == channels {
				found[mark] = true
			}
		}
		switch {
		case found['.'] && found[',']:
			return undecided
		case found['.']:
			return '.'
		case found[',']:
			return ','
		}
	}
	return undecided
}

// possibleMark is the mark of a channel whose cells in question make sense one
// way only: what never reaches 1000 is not grouped in thousands, and no engine
// turns at less than 100 r/min as a rule.
func (c *column) possibleMark() byte {
	_, itself, other := c.proof.inQuestion()
	k, _ := lookup(c.channel)
	if u := c.heading.unit; u != "" {
		if written, ok := unit.Parse(u); !ok || written.Name() != k.unit {
			return undecided
		}
	}
	switch {
	case c.channel == "engine_speed":
		return other
	case k.small:
		return itself
	}
	return undecided
}
