package report

import (
	"fmt"
	"maps"
	"slices"

	"calsplice/cmd/calsplice/page"
	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Events is the events of a channel as a page.
func Events(log, channel string, above float64, rows int, events []cells.Event) *page.Page {
	unit := drivelog.ChannelUnit(channel)
	p := &page.Page{Title: "Events of " + channel + " in " + tables.Clean(log), Kind: "Drive log", Cautions: cautions(nil),
		Lead: []string{fmt.Sprintf("%d events above %s %s in %d rows.", len(events), tables.FormatValue(above), unit, rows)}}
	lifts := 0
	for _, e := range events {
		if e.AfterLift != nil && *e.AfterLift {
			lifts++
		}
	}
	if lifts > 0 {
		p.Lead = append(p.Lead, fmt.Sprintf("%d of them follow a lift of the throttle within a second.", lifts))
	}
	context := map[string]bool{}
	for _, e := range events {
		for name := range e.At {
			context[name] = true
		}
	}
	names := slices.Sorted(maps.Keys(context))
	table := &page.Rows{Caption: "Each event, in the order of the drive", Head: []string{"Start [s]", "End [s]", "Lasts [s]", "Peak [" + unit + "]", "After lift"}, Numbers: []int{1, 2, 3}}
	for _, n := range names {
		table.Numbers = append(table.Numbers, len(table.Head))
		head := n
		if u := drivelog.ChannelUnit(n); u != "" {
			head += " [" + u + "]"
		}
		table.Head = append(table.Head, head)
	}
	for i, e := range events {
		if i == 500 {
			table.More = fmt.Sprintf("… and %d more.", len(events)-i)
			break
		}
		lift := "–"
		if e.AfterLift != nil {
			lift = map[bool]string{true: "yes", false: "no"}[*e.AfterLift]
		}
		line := []string{fmt.Sprintf("%.2f", e.Start), fmt.Sprintf("%.2f", e.End), fmt.Sprintf("%.2f", e.Duration), short(e.Peak), lift}
		for _, n := range names {
			v, ok := e.At[n]
			if !ok {
				line = append(line, "–")
				continue
			}
			line = append(line, short(v))
		}
		table.Lines = append(table.Lines, line)
	}
	if len(table.Lines) > 0 {
		p.Sections = []page.Section{{Heading: "Events", Rows: table}}
	}
	return p
}
