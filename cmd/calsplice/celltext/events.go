package celltext

import (
	"fmt"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/text"
	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// PrintEvents writes each event in two or three lines: when, how long, how
// much, and what else was happening at its peak.
func PrintEvents(p *text.Printer, channel string, above float64, rows int, events []cells.Event) {
	unit := drivelog.ChannelUnit(channel)
	lifts := 0
	for _, e := range events {
		if e.AfterLift != nil && *e.AfterLift {
			lifts++
		}
	}
	head := fmt.Sprintf("%s of %s above %s in %s rows", tables.Plural(len(events), "event"), tables.Clean(channel),
		quantity(above, unit), cells.Thousands(rows))
	if lifts > 0 {
		head += fmt.Sprintf(", %d just after the throttle was lifted", lifts)
	}
	p.Wrap("", head)
	logged, _ := drivelog.Channels()
	for i, e := range events {
		p.Line("")
		line := fmt.Sprintf("%s to %s s (%s s), peak %s", seconds(e.Start), seconds(e.End), seconds(e.Duration), quantity(e.Peak, unit))
		if e.AfterLift != nil && *e.AfterLift {
			line += ", after a lift"
		}
		if e.Cell != nil {
			line += fmt.Sprintf(", cell [%d, %d]", e.Cell[0], e.Cell[1])
		}
		lead := fmt.Sprintf("%*d  ", len(strconv.Itoa(len(events))), i+1)
		p.Wrap(lead, fmt.Sprintf("%s, line %d", line, e.Line))
		var at []string
		for _, name := range logged {
			if v, ok := e.At[name]; ok {
				at = append(at, strings.ReplaceAll(name, "_", " ")+" "+quantity(v, drivelog.ChannelUnit(name)))
			}
		}
		p.Wrap(strings.Repeat(" ", len(lead)), strings.Join(at, ", "))
	}
}

func seconds(v float64) string {
	return minus(strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(v, 'f', 3, 64), "0"), "."))
}

// quantity is a number to four figures, with its unit.
func quantity(v float64, unit string) string {
	s := minus(strconv.FormatFloat(v, 'g', 4, 64))
	if strings.Contains(s, "e") {
		s = minus(strconv.FormatFloat(v, 'f', 0, 64))
	}
	if unit == "" || unit == "1" {
		return s
	}
	return s + " " + unit
}
