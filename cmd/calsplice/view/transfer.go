package view

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/transfer"
	"calsplice/tables"
)

// Transfer is a transfer of injector data: what moved, what the pulses become,
// what the flow supports, and what all of it rests on.
func Transfer(r *transfer.Result) *View {
	v := &View{Title: "Injector data of " + nameOr(r.Donor), Kind: "Transferred to " + nameOr(r.Recipient),
		Lead:     transferLead(r),
		Verdict:  sentence(fmt.Sprintf("%s moved: %s of values", tables.Plural(len(r.Members), "injector table"), tables.Plural(len(r.Changes.Edits), "edit"))),
		Cautions: r.Own(), Standing: true, Offers: true}
	if before, err := merge.Apply(r.Changed, r.Changes.Reverse()); err == nil {
		v.Decide = decideEdits(before, r.Changed, r.Changes)
		v.effect()
	}
	for _, m := range r.Members {
		p := memberPart(m)
		v.Decide.part(&p, m.Table)
		v.Parts = append(v.Parts, p)
	}
	v.Parts = append(v.Parts, v.Decide.rest(v.Parts)...)
	v.add(pulsesPart("Pulse widths", "for a mass of fuel per injection", r.Points),
		idlePart(r.Idle), fullLoadPart(r), reviewPart(r), roundTripPart(r), assumedPart(r))
	return v
}

func nameOr(name string) string { return cmp.Or(strings.TrimSpace(name), "an unnamed calibration") }

func transferLead(r *transfer.Result) []string {
	lead := []string{fmt.Sprintf("Injector data of %s, in the units and on the axes of %s", nameOr(r.Donor), nameOr(r.Recipient))}
	for _, l := range r.Left {
		lead = append(lead, "Left as it was: "+l+".")
	}
	if w := r.Power; w != nil && w.After.Known() {
		lead = append(lead, fmt.Sprintf("The injectors support about %s kW at %s %% duty and %s g/kWh.", kW(w.After), four(w.DutyLimit), four(w.BSFC)))
	}
	return append(lead, "No table outside the injector group is changed.")
}

// memberPart is one table: the donor's values on the recipient's axes beside the
// recipient's before and after; a curve or a scalar as rows too.
func memberPart(m transfer.Member) Part {
	changed := 0
	for i, v := range m.After.Values() {
		if !tables.SameBit(v, m.Before.Values()[i]) {
			changed++
		}
	}
	p := Part{Heading: heading(m.After), Note: originWords(m), Charts: charts(m.After, []version{{"before", "before", m.Before}, {"after", "after", m.After}}),
		Text: []string{fmt.Sprintf("from the donor's %s in %s: %d of %d values changed", m.Donor, m.DonorUnit, changed, len(m.Exact))}}
	if !fits(m.After.Rows(), m.After.Columns(), 4) {
		p.Text = append(p.Text, "too many cells to print")
		return p
	}
	if m.Before.X() == nil {
		p.Rows = memberRows(m)
		return p
	}
	p.Grids = beforeAfter(m.Before, m.After, nil)
	columns := m.After.Columns()
	for r, line := range p.Grids[1].Lines {
		for c := range columns {
			cell, origin := &line[c+1], m.Origin[r*columns+c]
			cell.Mark |= originMark(origin)
			cell.Note = origin.String()
		}
	}
	p.Grids = append(p.Grids, tableGrid("donor, before rounding", m.Before, func(r, c int) Cell { return Cell{Text: four(m.Exact[r*columns+c])} }))
	p.Grids[2].On = OnPages
	if m.Before.Y() == nil {
		for i := range p.Grids {
			p.Grids[i].On = OnPages
		}
		p.Rows = memberRows(m)
	}
	return p
}

func originMark(o transfer.Origin) Mark {
	switch o {
	case transfer.Inferred:
		return Inferred
	case transfer.Held:
		return Filled
	}
	return 0
}

// memberRows lists a curve or a scalar, a breakpoint a row.
func memberRows(m transfer.Member) *Rows {
	x, pressure := m.Before.X(), m.Pressure != nil
	head := []string{"#value"}
	if x != nil {
		head[0] = "#" + x.Unit()
	}
	if pressure {
		head = append(head, "#Δp [kPa]")
	}
	r := NewRows(append(head, "#donor", "#before", "#after", "#change", "from")...)
	r.Edits = true
	for i, v := range m.Exact {
		before, after := m.Before.Values()[i], m.After.Values()[i]
		line := []string{"the value"}
		if x != nil {
			line[0] = tables.Shown(x.At(i))
		}
		if pressure {
			line = append(line, four(m.Pressure[i]))
		}
		r.Line(append(line, four(v), tables.Shown(before), tables.Shown(after), changeWords(before, after), m.Origin[i].String())...)
	}
	return r
}

func originWords(m transfer.Member) string {
	n := map[transfer.Origin]int{}
	for _, o := range m.Origin {
		n[o]++
	}
	var parts words
	inferred, held := n[transfer.Inferred], n[transfer.Held]
	parts.when(inferred > 0, "~ outside the donor's breakpoints, by the square-root law: %d of %d values", inferred, len(m.Origin))
	parts.when(held > 0, "[ ] outside the donor's axis, its edge value: %d of %d values", held, len(m.Origin))
	return cmp.Or(strings.Join(parts, "; "), "Every value lies within the donor's own breakpoints.")
}

// pulsesPart lists pulse widths, an operating point a row.
func pulsesPart(heading, what string, points []transfer.Point) Part {
	rows := NewRows("#Fuel [mg]", "#Battery [V]", "#Δp [kPa]", "#Before [ms]", "#After [ms]", "Remark")
	for _, pt := range points {
		rows.Line(four(pt.Fuel), four(pt.Voltage), four(pt.Pressure), ms(pt.Before), ms(pt.After), strings.Join(pulseRemarks(pt), "; "))
	}
	return Part{Heading: heading + ", before and after, " + what, Rows: rows}
}

func pulseRemarks(pt transfer.Point) []string {
	var list words
	list.when(pt.UnderMinimum, "under the minimum pulse: it would run richer than asked")
	list.when(pt.BelowLinear, "effective pulse below the linear range: the correction decides")
	return list
}

func idlePart(d *transfer.Idle) Part {
	if d == nil || len(d.Points) == 0 {
		return Part{}
	}
	p := pulsesPart("Pulse widths at idle", fmt.Sprintf("%s mg per injection (%s)", four(d.Fuel), d.From), d.Points)
	if d.Minimum.Known() {
		p.fact("Minimum pulse", ms(d.Minimum)+" ms")
	}
	if d.LinearFrom.Known() {
		p.fact("Linear from", ms(d.LinearFrom)+" ms of effective pulse")
	}
	if p.Facts == nil {
		p.Note = "No table gives a minimum pulse, or where the linear range begins."
	}
	return p
}

func fullLoadPart(r *transfer.Result) Part {
	p := Part{Heading: "At the highest demand"}
	if d := r.Duty; d != nil {
		p.fact("Demand", fmt.Sprintf("%s mg of air per cylinder at %s r/min and lambda %s (%s): %s mg per injection every %s ms at %s kPa and %s V",
			four(d.AirMass), four(d.Speed), four(d.Lambda), d.From, four(d.Fuel), four(d.Period), four(d.Pressure), four(d.Battery)))
		p.fact("Duty", fmt.Sprintf("%s → %s, limit %s %%", share(d.Before), share(d.After), four(d.Limit)))
	}
	if w := r.Power; w != nil {
		p.fact("Power that the flow supports", fmt.Sprintf("%s → %s kW: 3600 · %s g/s · %d injectors · (%s − %s/%s) / %s g/kWh, at %s kPa of differential pressure and %s r/min",
			kW(w.Before), kW(w.After), w.Flow, w.Injectors, four(w.DutyLimit/100), four(w.Offset), four(w.Period), four(w.BSFC), four(w.Pressure), four(w.Speed)))
	}
	return p
}

func reviewPart(r *transfer.Result) Part {
	rows := NewRows("Table", "Title", "Factor that would apply without offset")
	for _, v := range r.Review {
		factor := "× " + v.Low.String()
		if !v.Low.Known() {
			factor = "not known"
		} else if v.High.String() != v.Low.String() {
			factor += " to " + v.High.String()
		}
		rows.Line(withUnit(v.Table, v.Unit), v.Title, factor)
	}
	return Part{Heading: "For review only: times outside the group, which did not change", Rows: rows}
}

func roundTripPart(r *transfer.Result) Part {
	p := Part{Heading: "What the change of axes loses: from the donor's to the recipient's and back"}
	for _, t := range r.RoundTrips {
		value := fmt.Sprintf("at most %s %s (%s of its largest)%s, rms %s", t.Largest, t.Unit, share(t.Percent), lossPlace(r, &t), t.RMS)
		if t.Why != "" {
			value = "no way back: " + t.Why
		}
		p.fact(string(t.Role), value)
	}
	return p
}

// lossPlace says where the most is lost, on the donor's axes, and whether that is
// past the recipient's, where its edge value is held.
func lossPlace(r *transfer.Result, t *transfer.RoundTrip) string {
	i := slices.IndexFunc(r.Members, func(m transfer.Member) bool { return m.Role == t.Role })
	if i < 0 || len(t.At) == 0 || t.Largest == 0 {
		return ""
	}
	from, to := r.Members[i].Source, r.Members[i].After
	var words []string
	past := false
	for k, a := range from.Axes().All() {
		if k >= len(t.At) {
			break
		}
		words = append(words, strings.TrimSpace(tables.Digits(t.At[k], 4)+" "+a.Unit()))
		for _, b := range to.Axes().All() {
			if b.Quantity() == a.Quantity() && b.Unit() == a.Unit() && (t.At[k] < b.At(0) || t.At[k] > b.At(b.Len()-1)) {
				past = true
			}
		}
	}
	s := " at " + strings.Join(words, ", ")
	if past {
		s += ", past the recipient's axis"
	}
	return s
}

func assumedPart(r *transfer.Result) Part {
	lines := tables.Each(r.NotShown, func(s string) string { return "not shown: " + s })
	for _, a := range r.Assumed {
		lines = append(lines, a.String())
	}
	return listPart("Assumptions", lines)
}

// four is a computed number in four digits.
func four(v float64) string { return tables.Digits(v, 4) }

func ms(n tables.Number) string    { return maybe(float64(n), fixed(3, "")) }
func kW(n tables.Number) string    { return maybe(float64(n), fixed(1, "")) }
func share(n tables.Number) string { return maybe(float64(n), fixed(1, " %")) }
