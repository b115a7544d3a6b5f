package transfer

import (
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// Review is a table of times outside the group: nothing changes in it, but if
// its times are pulse widths, the part of each without the offset would want the
// factor, which is the flow before over the flow after.
type Review struct {
	Table string        `json:"table"`
	Title string        `json:"title"`
	Unit  string        `json:"unit"`
	Low   tables.Number `json:"factor_low"` // over the report's differential pressures
	High  tables.Number `json:"factor_high"`
}

func (j *job) review(before, after injector) []Review {
	low, high := unknown, unknown
	var factors []float64
	if before != nil && after != nil {
		for _, dp := range j.reportPressures() {
			factors = append(factors, before.flow(dp)/after.flow(dp))
		}
	}
	if len(factors) > 0 {
		low, high = tables.Number(slices.Min(factors)), tables.Number(slices.Max(factors))
	}
	list := []Review{}
	for _, t := range j.recipient.cal.Tables() {
		u, ok := unit.Parse(t.Unit())
		// Cranking, priming, transient fuel, pulse limits: the unit alone tells that a
		// table may be a pulse width, never that it is one. So nothing here is changed.
		if !ok || u.Dimension() != unit.Time || slices.Contains(tables.InjectorGroup, t.Role()) {
			continue
		}
		list = append(list, Review{t.ID(), t.Title(), t.Unit(), low, high})
	}
	return list
}

// RoundTrip is what one member loses on the way to the recipient's axes and
// back to the donor's: the exact difference of the donor's surface and the one
// that comes back.
type RoundTrip struct {
	Role    tables.Role   `json:"role"`
	Table   string        `json:"table"` // the donor's
	Unit    string        `json:"unit"`
	Largest tables.Number `json:"max"`
	Mean    tables.Number `json:"mean"`
	RMS     tables.Number `json:"rms"`
	Percent tables.Number `json:"max_percent"` // of the donor's largest value
	At      []float64     `json:"at"`          // coordinates of the largest, x then y
	Why     string        `json:"why,omitempty"`
}

func (j *job) roundTrips() []RoundTrip {
	quiet := &notes{}
	from, to := j.recipient.with(j.result.Members, quiet), j.donor.with(nil, quiet)
	// What stood for a missing axis on the way there stands on the way back.
	// The way back goes through the same code as the way there, with the sides changed.
	to.fixedPressure, to.fixedVoltage = j.recipient.fixedPressure, j.recipient.fixedVoltage
	list := []RoundTrip{}
	for _, m := range j.result.Members {
		list = append(list, roundTrip(m, from, to))
	}
	return list
}

func roundTrip(m Member, from, to *side) RoundTrip {
	r := RoundTrip{Role: m.Role, Table: m.Donor, Unit: m.DonorUnit, Largest: unknown, Mean: unknown, RMS: unknown, Percent: unknown, At: []float64{}}
	var c carried
	if fault := attempt(func() { c = carry(from, to, m.Role) }); fault != nil {
		r.Why = fault.What
		return r
	}
	back, err := m.Source.WithValues(c.values)
	if err != nil {
		r.Why = err.Error()
		return r
	}
	// Exact, on the union of both sets of breakpoints: not only where cells stand.
	d, err := interp.Compare(m.Source, back)
	if err != nil {
		r.Why = err.Error()
		return r
	}
	r.Largest, r.Mean, r.RMS = tables.Number(d.Largest), tables.Number(d.Mean), tables.Number(d.RMS)
	var most float64
	for _, v := range m.Source.Values() {
		most = max(most, math.Abs(v))
	}
	// A share of the largest value, since a share of a value near 0 says nothing.
	if most > 0 {
		r.Percent = tables.Number(100 * d.Largest / most)
	}
	for k, a := range d.Axes {
		if a != nil {
			r.At = append(r.At, d.At[k])
		}
	}
	return r
}
