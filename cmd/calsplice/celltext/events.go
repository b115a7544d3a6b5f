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

// mostEvents is how many events are listed on a terminal.
const mostEvents = 50

// PrintEvents writes a summary, then each event in two or three lines: when, how
// long, how much, and what else was happening at its peak.
func PrintEvents(p *text.Printer, channel string, above float64, rows int, events []cells.Event, place func([2]int) string) {
	unit := drivelog.ChannelUnit(channel)
	p.Wrap("", fmt.Sprintf("%s of %s above %s in %s rows", tables.Plural(len(events), "event"), tables.Clean(channel),
		quantity(above, unit), cells.Thousands(rows)))
	if len(events) == 0 {
		return
	}
	s := cells.SummariseEvents(events)
	p.Wrap("", fmt.Sprintf("together %s s, peak %s; %d just after a throttle lift, %d not", seconds(s.Seconds), quantity(s.Peak, unit), s.Lifts, s.Events-s.Lifts))
	for _, c := range s.Cells[:min(8, len(s.Cells))] {
		p.Wrap("  ", fmt.Sprintf("%s: %s, %s s, peak %s%s", place(c.Cell), tables.Plural(c.Events, "event"), seconds(c.Seconds),
			quantity(c.Peak, unit), map[bool]string{true: fmt.Sprintf(", %d after a lift", c.Lifts)}[c.Lifts > 0]))
	}
	if n := len(s.Cells) - 8; n > 0 {
		p.Wrap("  ", fmt.Sprintf("and %d more cells", n))
	}
	if s.Cells == nil {
		p.Wrap("", "--axes CAL lists them by cell of its spark table")
	}
	for i := range events[:min(mostEvents, len(events))] {
		printEvent(p, unit, fmt.Sprintf("%*d  ", len(strconv.Itoa(len(events))), i+1), &events[i])
	}
	if n := len(events) - mostEvents; n > 0 {
		p.Line("")
		p.Wrap("", fmt.Sprintf("%d more events: --json or -o FILE.html lists all", n))
	}
}

func printEvent(p *text.Printer, unit, lead string, e *cells.Event) {
	p.Line("")
	line := fmt.Sprintf("%s to %s s (%s s), peak %s", seconds(e.Start), seconds(e.End), seconds(e.Duration), quantity(e.Peak, unit))
	if e.AfterLift != nil && *e.AfterLift {
		line += ", after a lift"
	}
	if e.Cell != nil {
		line += fmt.Sprintf(", cell [%d, %d]", e.Cell[0], e.Cell[1])
	}
	p.Wrap(lead, fmt.Sprintf("%s, line %d", line, e.Line))
	var at []string
	for _, name := range cells.EventContext() {
		if v, ok := e.At[name]; ok {
			at = append(at, strings.ReplaceAll(name, "_", " ")+" "+quantity(v, drivelog.ChannelUnit(name)))
		}
	}
	p.Wrap(strings.Repeat(" ", len(lead)), strings.Join(at, ", "))
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
