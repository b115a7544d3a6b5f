package report

import (
	"fmt"
	"slices"

	"calsplice/cmd/calsplice/page"
	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Events is the events of a channel as a page.
func Events(log, channel string, above float64, rows int, events []cells.Event, place func([2]int) string) *page.Page {
	unit := drivelog.ChannelUnit(channel)
	p := &page.Page{Title: "Events of " + channel + " in " + tables.Clean(log), Kind: "Drive log", Cautions: cautions(nil),
		Lead: []string{fmt.Sprintf("%d events above %s %s in %d rows.", len(events), tables.FormatValue(above), unit, rows)}}
	s := cells.SummariseEvents(events)
	if s.Events > 0 {
		p.Lead = append(p.Lead, fmt.Sprintf("Together %.1f s, peak %s %s; %d just after a throttle lift, %d not.", s.Seconds, short(s.Peak), unit, s.Lifts, s.Events-s.Lifts))
	}
	context := map[string]bool{}
	for _, e := range events {
		for name := range e.At {
			context[name] = true
		}
	}
	names := slices.DeleteFunc(cells.EventContext(), func(name string) bool { return !context[name] })
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
	if len(s.Cells) > 0 {
		where := &page.Rows{Caption: "By cell, worst first", Head: []string{"Cell", "Events", "After lift", "Together [s]", "Peak [" + unit + "]"}, Numbers: []int{1, 2, 3, 4}}
		for _, c := range s.Cells {
			where.Lines = append(where.Lines, []string{place(c.Cell), fmt.Sprint(c.Events), fmt.Sprint(c.Lifts), fmt.Sprintf("%.2f", c.Seconds), short(c.Peak)})
		}
		p.Sections = append(p.Sections, page.Section{Heading: "Where", Rows: where})
	}
	if len(table.Lines) > 0 {
		p.Sections = append(p.Sections, page.Section{Heading: "Events", Rows: table})
	}
	return p
}
