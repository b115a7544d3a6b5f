// Package transfertext prints a transfer's report for a person: what moved, what
// the pulses become, what the flow supports, and what all of it rests on. It is
// as wide as the window, 80 columns on paper.
package transfertext

import (
	"fmt"
	"math"
	"strings"

	"calsplice/cmd/calsplice/text"
	"calsplice/merge/transfer"
	"calsplice/tables"
)

// Marks behind a number, each with its words.
const (
	markInferred = "~"
	markHeld     = "="
	markMinimum  = "!"
	markLinear   = "?"
)

// Write prints the report.
func Write(p *text.Printer, r *transfer.Result) {
	p.Wrap("", fmt.Sprintf("Injector data of %s, in the terms of %s", named(r.Donor), named(r.Recipient)))
	p.Line("")
	for _, m := range r.Members {
		member(p, m)
	}
	legend(p, r)
	pulses(p, r)
	idle(p, r)
	fullLoad(p, r)
	review(p, r)
	roundTrip(p, r)
	for _, s := range r.NotShown {
		p.Wrap("Not shown: ", s)
	}
	assumptions(p, r)
	heading(p, "Cautions")
	rests := map[string]bool{}
	for _, a := range r.Assumed {
		rests[a.String()] = true
	}
	for _, s := range r.Cautions {
		if !rests[s] { // listed above already
			p.Wrap("- ", tables.Clean(s))
		}
	}
}

func named(s string) string {
	if strings.TrimSpace(s) == "" {
		return "an unnamed calibration"
	}
	return tables.Clean(s)
}

func heading(p *text.Printer, s string) {
	p.Line("")
	p.Wrap("", s)
}

// member prints one table: donor's values on the recipient's axes, the
// recipient's before, and after.
func member(p *text.Printer, m transfer.Member) {
	unit := tables.Clean(m.Unit)
	changed := 0
	for i, v := range m.After.Values() {
		if !tables.SameBit(v, m.Before.Values()[i]) {
			changed++
		}
	}
	p.Wrap("", fmt.Sprintf("%s (%s), from the donor's %s in %s: %d of %d values changed", m.Table, unit, m.Donor, tables.Clean(m.DonorUnit), changed, len(m.Exact)))
	switch {
	case m.Before.Y() != nil:
		for _, part := range []struct {
			name  string
			value func(i int) string
		}{
			{"before", func(i int) string { return tables.FormatValue(m.Before.Values()[i]) }},
			{"after", func(i int) string { return tables.FormatValue(m.After.Values()[i]) + mark(m.Origin[i]) }},
			{"donor, before rounding", func(i int) string { return short(m.Exact[i]) }},
		} {
			p.Line("  %s", part.name)
			p.Grid(text.TableGrid(m.Before, func(row, col int) text.Cell { return text.Cell{Text: part.value(row*m.Before.Columns() + col)} }))
		}
	default:
		p.Grid(column(m))
	}
	p.Line("")
}

// column lists a curve or a scalar, a breakpoint a row.
func column(m transfer.Member) text.Grid {
	g := text.Grid{X: []string{"donor", "before", "after", "change", "from"}}
	if m.Pressure != nil {
		g.X = append([]string{"Δp kPa"}, g.X...)
	}
	if x := m.Before.X(); x != nil {
		g.XName = tables.Clean(x.Quantity() + " [" + x.Unit() + "] down")
	}
	for i, v := range m.Exact {
		before, after := m.Before.Values()[i], m.After.Values()[i]
		y := ""
		if x := m.Before.X(); x != nil {
			y = tables.FormatValue(x.At(i))
		}
		g.Y = append(g.Y, y)
		row := []text.Cell{{Text: short(v)}, {Text: tables.FormatValue(before)}, {Text: tables.FormatValue(after), Bold: true}, {Text: change(before, after)}, {Text: m.Origin[i].String()}}
		if m.Pressure != nil {
			row = append([]text.Cell{{Text: short(m.Pressure[i])}}, row...)
		}
		g.Cells = append(g.Cells, row)
	}
	return g
}

func mark(o transfer.Origin) string {
	switch o {
	case transfer.Inferred:
		return markInferred
	case transfer.Held:
		return markHeld
	}
	return ""
}

// legend explains the marks of grids that have any.
func legend(p *text.Printer, r *transfer.Result) {
	for _, m := range r.Members {
		if m.Before.Y() == nil {
			continue
		}
		for _, o := range m.Origin {
			if o == transfer.Held {
				p.Line("%s held: past the donor's axes", markHeld)
				return
			}
		}
	}
}

func change(before, after float64) string {
	switch {
	case before == after:
		return "·"
	case before == 0:
		return "new"
	}
	return tables.Signed(100*(after-before)/math.Abs(before), 1) + " %"
}

// pulses prints the grid of operating points, a block a differential pressure.
func pulses(p *text.Printer, r *transfer.Result) {
	if len(r.Points) == 0 {
		return
	}
	heading(p, "Pulse width in ms, before → after, for a mass of fuel an injection")
	minimum, linear := false, false
	for first := 0; first < len(r.Points); {
		dp := r.Points[first].Pressure
		var g text.Grid
		g.XName, g.YName = "battery [V]", "fuel [mg]"
		columns, rows := map[float64]int{}, map[float64]int{}
		for ; first < len(r.Points) && r.Points[first].Pressure == dp; first++ {
			pt := r.Points[first]
			if _, ok := rows[pt.Fuel]; !ok {
				rows[pt.Fuel] = len(g.Y)
				g.Y, g.Cells = append(g.Y, short(pt.Fuel)), append(g.Cells, nil)
			}
			if _, ok := columns[pt.Voltage]; !ok {
				columns[pt.Voltage] = len(g.X)
				g.X = append(g.X, short(pt.Voltage)+" V")
			}
			i := rows[pt.Fuel]
			g.Cells[i] = append(g.Cells[i], text.Cell{Text: width(pt)})
			minimum, linear = minimum || pt.UnderMinimum, linear || pt.BelowLinear
		}
		p.Line("  at %s kPa of differential pressure", short(dp))
		p.Grid(g)
	}
	if minimum {
		p.Line("%s under the minimum pulse", markMinimum)
	}
	if linear {
		p.Line("%s effective pulse below the linear range", markLinear)
	}
}

func width(pt transfer.Point) string {
	s := ms(pt.Before) + " → " + ms(pt.After)
	if pt.UnderMinimum {
		s += markMinimum
	}
	if pt.BelowLinear {
		s += markLinear
	}
	return s
}

func ms(n transfer.Num) string {
	if !n.Known() {
		return "–"
	}
	return fmt.Sprintf("%.3f", float64(n))
}

func idle(p *text.Printer, r *transfer.Result) {
	if r.Idle == nil {
		return
	}
	heading(p, fmt.Sprintf("At idle: %s mg an injection (%s)", short(r.Idle.Fuel), tables.Clean(r.Idle.From)))
	for _, pt := range r.Idle.Points {
		verdict := "clear of both"
		switch {
		case pt.UnderMinimum:
			verdict = "UNDER the minimum pulse: it would run richer than asked"
		case pt.BelowLinear:
			verdict = "below the linear range: the correction decides"
		case !r.Idle.Minimum.Known() && !r.Idle.LinearFrom.Known():
			verdict = "no minimum and no correction to compare with"
		}
		p.Wrap("  ", fmt.Sprintf("%s V: %s → %s ms, effective %s ms: %s", short(pt.Voltage), ms(pt.Before), ms(pt.After), ms(pt.Effective), verdict))
	}
	if r.Idle.Minimum.Known() {
		p.Line("  minimum pulse %s ms", ms(r.Idle.Minimum))
	}
	if r.Idle.LinearFrom.Known() {
		p.Line("  linear from an effective pulse of %s ms", ms(r.Idle.LinearFrom))
	}
}

func fullLoad(p *text.Printer, r *transfer.Result) {
	if d := r.Duty; d != nil {
		heading(p, "Highest demand ("+tables.Clean(d.From)+")")
		p.Wrap("  ", fmt.Sprintf("%s mg of air a cylinder at %s r/min and lambda %s: %s mg an injection every %s ms at %s kPa and %s V",
			short(d.AirMass), short(d.Speed), short(d.Lambda), short(d.Fuel), short(d.Period), short(d.Pressure), short(d.Battery)))
		p.Wrap("  ", fmt.Sprintf("duty %s → %s, limit %s %%", percent(d.Before), percent(d.After), short(d.Limit)))
	}
	if w := r.Power; w != nil {
		heading(p, "Power that the flow supports")
		p.Wrap("  ", fmt.Sprintf("%s → %s kW: 3600 · %s g/s · %d injectors · (%s − %s/%s) / %s g/kWh", kW(w.Before), kW(w.After), w.Flow, w.Injectors,
			short(w.DutyLimit/100), short(w.Offset), short(w.Period), short(w.BSFC)))
		p.Wrap("  ", fmt.Sprintf("at %s kPa of differential pressure and %s r/min", short(w.Pressure), short(w.Speed)))
	}
}

func percent(n transfer.Num) string {
	if !n.Known() {
		return "–"
	}
	return fmt.Sprintf("%.1f %%", float64(n))
}

func kW(n transfer.Num) string {
	if !n.Known() {
		return "–"
	}
	return fmt.Sprintf("%.1f", float64(n))
}

func review(p *text.Printer, r *transfer.Result) {
	if len(r.Review) == 0 {
		return
	}
	heading(p, "For review only: times outside the group, which did not change")
	for _, v := range r.Review {
		factor := v.Low.String()
		if !v.Low.Known() {
			factor = "not known"
		} else if v.High.String() != factor {
			factor += " to " + v.High.String()
		}
		p.Wrap("  ", fmt.Sprintf("%s (%s): a pulse width without its offset would want × %s", v.Table, tables.Clean(v.Unit), factor))
	}
}

func roundTrip(p *text.Printer, r *transfer.Result) {
	if len(r.RoundTrips) == 0 {
		return
	}
	heading(p, "Round trip: donor → recipient's axes → donor's axes")
	for _, t := range r.RoundTrips {
		if t.Why != "" {
			p.Wrap("  ", fmt.Sprintf("%s: no way back: %s", t.Role, t.Why))
			continue
		}
		p.Wrap("  ", fmt.Sprintf("%s: loses at most %s %s (%s of its largest), rms %s", t.Role, t.Largest, tables.Clean(t.Unit), percent(t.Percent), t.RMS))
	}
}

func assumptions(p *text.Printer, r *transfer.Result) {
	if len(r.Assumed) == 0 {
		return
	}
	heading(p, "It rests on")
	for _, a := range r.Assumed {
		p.Wrap("- ", tables.Clean(a.String()))
	}
}

func short(v float64) string { return transfer.Num(v).String() }
