package report

import (
	"fmt"
	"slices"

	"calsplice/cmd/calsplice/page"
	"calsplice/merge/transfer"
	"calsplice/tables"
)

// Transfer is a transfer of injector data as a page for the customer's folder.
func Transfer(before *tables.Calibration, r *transfer.Result) *page.Page {
	p := &page.Page{
		Title: "Injector data from " + tables.Clean(orNone(r.Donor)) + " for " + tables.Clean(orNone(r.Recipient)),
		Kind:  "Transfer of injector characterization",
		Lead:  transferLead(r), Cautions: cautions(r.Cautions),
	}
	Changes(p, before, r.Changed, r.Changes)
	markOrigins(p, r)
	if s, ok := pulses("Pulse widths, before and after", r.Points); ok {
		p.Sections = append(p.Sections, s)
	}
	if r.Idle != nil {
		if s, ok := pulses("Pulse widths at idle", r.Idle.Points); ok {
			s.Facts = []page.Fact{{Name: "Fuel for one injection", Value: fmt.Sprintf("%s mg (%s)", short(r.Idle.Fuel), r.Idle.From)}}
			if r.Idle.Minimum.Known() {
				s.Facts = append(s.Facts, page.Fact{Name: "Shortest pulse", Value: known(r.Idle.Minimum) + " ms"})
			}
			if r.Idle.LinearFrom.Known() {
				s.Facts = append(s.Facts, page.Fact{Name: "Linear from", Value: known(r.Idle.LinearFrom) + " ms of effective pulse"})
			}
			p.Sections = append(p.Sections, s)
		}
	}
	if s, ok := fullLoad(r); ok {
		p.Sections = append(p.Sections, s)
	}
	p.Sections = append(p.Sections, assumptions(r), roundTrip(r))
	if s, ok := reviewOutside(r); ok {
		p.Sections = append(p.Sections, s)
	}
	p.Sections = slices.DeleteFunc(p.Sections, func(s page.Section) bool { return s.Heading == "" })
	return p
}

func transferLead(r *transfer.Result) []string {
	var lead []string
	for _, m := range r.Members {
		lead = append(lead, fmt.Sprintf("%s comes from the donor's %s, in %s on the recipient's own axes.", m.Table, m.Donor, m.Unit))
	}
	for _, l := range r.Left {
		lead = append(lead, "Left as it was: "+tables.Clean(l)+".")
	}
	if w := r.Power; w != nil && w.After.Known() {
		lead = append(lead, fmt.Sprintf("The injectors support about %s kW at %s %% duty and %s g/kWh.", known(w.After), short(w.DutyLimit), short(w.BSFC)))
	}
	return append(lead, "No table outside the injector group is changed.")
}

// markOrigins dashes the cells that the donor's table did not give itself.
func markOrigins(p *page.Page, r *transfer.Result) {
	for i := range p.Sections {
		for _, m := range r.Members {
			if p.Sections[i].Heading != Heading(m.After) {
				continue
			}
			for g := range p.Sections[i].Grids {
				grid := &p.Sections[i].Grids[g]
				if grid.Name != "after" {
					continue
				}
				for k, o := range m.Origin {
					if o == transfer.Inferred || o == transfer.Held {
						cell := &grid.Cells[k/m.After.Columns()][k%m.After.Columns()]
						cell.Class, cell.Note = page.Classes(cell.Class, "inferred"), o.String()
					}
				}
			}
			p.Sections[i].Text = append(p.Sections[i].Text, originWords(m))
		}
	}
}

func originWords(m transfer.Member) string {
	n := map[transfer.Origin]int{}
	for _, o := range m.Origin {
		n[o]++
	}
	if n[transfer.Inferred]+n[transfer.Held] == 0 {
		return "Every value lies within the donor's own breakpoints."
	}
	s := ""
	if k := n[transfer.Inferred]; k > 0 {
		s = fmt.Sprintf("%d of %d values lie past the donor's breakpoints and follow the square-root law. ", k, len(m.Origin))
	}
	if k := n[transfer.Held]; k > 0 {
		s += fmt.Sprintf("%d of %d values lie past the donor's axis and hold its edge value. ", k, len(m.Origin))
	}
	return s + "They are dashed and italic."
}

func pulses(heading string, points []transfer.Point) (page.Section, bool) {
	if len(points) == 0 {
		return page.Section{}, false
	}
	rows := &page.Rows{Caption: heading, Head: []string{"Fuel [mg]", "Battery [V]", "Differential pressure [kPa]", "Before [ms]", "After [ms]", "Remark"}, Numbers: []int{1, 2, 3, 4}}
	for _, pt := range points {
		remark := ""
		if pt.UnderMinimum {
			remark = "under the shortest pulse"
		}
		if pt.BelowLinear {
			if remark != "" {
				remark += "; "
			}
			remark += "below the linear range"
		}
		rows.Lines = append(rows.Lines, []string{short(pt.Fuel), short(pt.Voltage), short(pt.Pressure), known(pt.Before), known(pt.After), remark})
	}
	return page.Section{Heading: heading, Rows: rows}, true
}

func fullLoad(r *transfer.Result) (page.Section, bool) {
	s := page.Section{Heading: "At the highest demand"}
	add := func(name, value string) { s.Facts = append(s.Facts, page.Fact{Name: name, Value: value}) }
	if d := r.Duty; d != nil {
		add("Demand", fmt.Sprintf("%s mg of air a cylinder at %s r/min, lambda %s (%s)", short(d.AirMass), short(d.Speed), short(d.Lambda), d.From))
		add("Duty before", known(d.Before)+" %")
		add("Duty after", fmt.Sprintf("%s %% (limit %s %%)", known(d.After), short(d.Limit)))
	}
	if w := r.Power; w != nil {
		add("Power that the flow supports", fmt.Sprintf("before %s kW, after %s kW", known(w.Before), known(w.After)))
		add("Reckoned with", fmt.Sprintf("%s g/kWh, %s %% duty, offset %s ms of %s ms, %d injectors", short(w.BSFC), short(w.DutyLimit), short(w.Offset), short(w.Period), w.Injectors))
	}
	return s, len(s.Facts) > 0
}

func assumptions(r *transfer.Result) page.Section {
	rows := &page.Rows{Caption: "What the numbers rest on", Head: []string{"What", "Value", "From"}}
	for _, a := range r.Assumed {
		rows.Lines = append(rows.Lines, []string{tables.Clean(a.Name), tables.Clean(a.Value), tables.Clean(a.From)})
	}
	s := page.Section{Heading: "Assumptions", Rows: rows}
	for _, n := range r.NotShown {
		s.Text = append(s.Text, "Not shown: "+tables.Clean(n))
	}
	if len(rows.Lines) == 0 {
		s.Rows = nil
	}
	if s.Rows == nil && len(s.Text) == 0 {
		return page.Section{}
	}
	return s
}

func roundTrip(r *transfer.Result) page.Section {
	rows := &page.Rows{Caption: "From the donor's axes to the recipient's and back", Head: []string{"Donor's table", "Largest loss", "Mean", "Remark"}, Numbers: []int{1, 2}}
	for _, t := range r.RoundTrips {
		loss := known(t.Largest) + " " + t.Unit
		if t.Percent.Known() {
			loss += fmt.Sprintf(" (%.2f %%)", float64(t.Percent))
		}
		rows.Lines = append(rows.Lines, []string{t.Table, loss, known(t.Mean), tables.Clean(t.Why)})
	}
	if len(rows.Lines) == 0 {
		return page.Section{}
	}
	return page.Section{Heading: "What the change of axes loses", Rows: rows}
}

func reviewOutside(r *transfer.Result) (page.Section, bool) {
	rows := &page.Rows{Caption: "Pulses outside the group, not changed", Head: []string{"Table", "Title", "Factor that would apply"}}
	for _, v := range r.Review {
		rows.Lines = append(rows.Lines, []string{v.Table, tables.Clean(v.Title), known(v.Low) + " to " + known(v.High)})
	}
	return page.Section{Heading: "For review by a person", Text: []string{"These tables are in units of time too, and were tuned for the old injectors."}, Rows: rows}, len(rows.Lines) > 0
}

// known writes a number of a report, "–" where it is not known.
func known(n transfer.Num) string {
	if !n.Known() {
		return "–"
	}
	return short(float64(n))
}

// short writes a number with four significant digits.
func short(v float64) string { return fmt.Sprintf("%.4g", v) }
