package transfer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/interp"
	"calsplice/interp/engine"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// moved lists the roles that a transfer moves. The reference pressure is no
// property of the injector: the recipient's stays, and the flow is moved to it.
var moved = []tables.Role{tables.InjectorFlow, tables.InjectorOffset, tables.InjectorNonlinear, tables.InjectorMinPulse}

// job is a transfer under way.
type job struct {
	donor, recipient *side
	opt              Options
	facts            engine.Facts // of the recipient's engine
	notes            notes
	result           *Result
}

// Run transfers the donor's injector group into the recipient. Errors are
// [tables.Faults], a line for everything that is missing or contradicts itself.
func Run(donor, recipient *tables.Calibration, opt Options) (*Result, error) {
	if len(opt.Voltages) == 0 {
		opt.Voltages = usualVoltages
	}
	j := &job{opt: opt, result: &Result{Donor: donor.Name(), Recipient: recipient.Name(),
		Members: []Member{}, Left: []string{}, Points: []Point{}, NotShown: []string{}}}
	faults := j.readSides(donor, recipient)
	if len(faults) > 0 {
		return nil, faults
	}
	// Every member is tried, also after a fault: the list of what is missing should be
	// complete.
	roles, faults := j.roles()
	for _, role := range roles {
		if f := attempt(func() { j.move(role) }); f != nil {
			faults = append(faults, f)
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	if err := j.change(recipient); err != nil {
		return nil, err
	}
	var rests tables.Notes // as cautions: whoever gets the change set alone must see them
	for _, a := range j.notes.assumed {
		rests.Add(a.String())
	}
	j.report()
	// The report assumes more than the values rest on, such as an engine speed. Those
	// are listed, and do not go into the change set.
	j.result.Assumed = append([]Assumption{}, j.notes.assumed...)
	j.result.Cautions, j.result.rests = slices.Concat(rests, j.notes.cautions), len(rests)
	j.result.Changes.Cautions = slices.Concat(j.result.Cautions, caution.Standing)
	return j.result, nil
}

// readSides reads both calibrations and settles what their flows are measured
// with.
func (j *job) readSides(donor, recipient *tables.Calibration) tables.Faults {
	o := j.opt
	var faults, more tables.Faults
	j.donor, faults = newSide("donor", o.DonorName, donor, o.DonorDensity, "--donor-density", &j.notes)
	j.recipient, more = newSide("recipient", o.RecipientName, recipient, o.RecipientDensity, "--density", &j.notes)
	if faults = append(faults, more...); len(faults) > 0 {
		return faults
	}
	j.facts, _ = engine.NewFacts(recipient.Engine()) // the rest stands where the displacement says nothing
	j.donor.baro, j.recipient.baro = o.Barometer, o.Barometer
	j.recipient.fixedPressure, j.recipient.fixedVoltage = o.Pressure, o.Voltage
	if o.RatedDensity > 0 {
		// A rating on test fluid is no rating on petrol. The recipient's table is for its
		// fuel, so that its density must be known, or the donor's stand for it.
		j.donor.fluid = fluid{o.RatedDensity, "--rated-density"}
		if j.recipient.settleFluid(j.donor); j.recipient.fluid.density == 0 {
			return tables.Faults{j.recipient.fault(nil, "a flow rated at %s kg/L is turned to the fuel's density, and neither side gives one: give engine fuel_density, or --density",
				tables.FormatValue(o.RatedDensity))}
		}
	}
	return nil
}

// roles lists the members that move. One that a single side has is a fault, or
// with --partial is left and said.
func (j *job) roles() ([]tables.Role, tables.Faults) {
	var list []tables.Role
	var faults tables.Faults
	for _, role := range moved {
		d, r := j.donor.member[role], j.recipient.member[role]
		has, lacks, t := j.donor, j.recipient, cmp.Or(d, r)
		if d == nil {
			has, lacks = lacks, has
		}
		switch {
		case d != nil && r != nil:
			list = append(list, role)
		case t != nil && j.opt.Partial:
			text := fmt.Sprintf("%s is left behind: the %s has a table of it (%s) and the %s none; the injector's tables belong together", role, has.whose, t.ID(), lacks.whose)
			j.result.Left = append(j.result.Left, text)
			j.notes.cautions.Add(text)
		case t != nil:
			faults = append(faults, lacks.fault(nil, "there is no table of role %s, and the %s has one (%s): give it, or --partial to leave that one where it is", role, has.whose, t.ID()))
		case role == tables.InjectorFlow && !j.opt.Partial:
			faults = append(faults, j.donor.fault(nil, "there is no table of role %s, nor in the recipient: expected the injector's flow, or --partial to move the rest", role))
		}
	}
	if len(list) == 0 && len(faults) == 0 {
		faults = append(faults, j.donor.fault(nil, "no table of the injector's group is on both sides: there is nothing to transfer"))
	}
	return list, faults
}

// move brings one member across.
func (j *job) move(role tables.Role) {
	src, dst := j.donor.member[role], j.recipient.member[role]
	c := carry(j.donor, j.recipient, role)
	m := Member{Role: role, Table: dst.ID(), Donor: src.ID(), Unit: dst.Unit(), DonorUnit: src.Unit(),
		X: along(dst.X()), Y: along(dst.Y()), Old: dst.Values(), Before: dst, Source: src, Exact: c.values, Origin: c.origins}
	if role == tables.InjectorFlow {
		for _, p := range c.places {
			m.Pressure = append(m.Pressure, p[pressure])
		}
	}
	var err error
	m.After, err = dst.WithValues(j.settle(dst, &m))
	j.recipient.need(dst, err)
	m.New = m.After.Values()
	j.sayHeld(&m)
	j.sayTurned(&m)
	j.result.Members = append(j.result.Members, m)
}

// sameNumber is how near two numbers are the same where no resolution says so:
// what a chain of conversions may leave.
const sameNumber = 1e-12

// settle rounds to the recipient's resolution and keeps within its limits. A
// value that the controller already holds stays as it is, to the bit.
func (j *job) settle(dst *tables.Table, m *Member) []float64 {
	values := make([]float64, len(m.Exact))
	clamped, rounded, most := 0, 0, 0.0
	for i, v := range m.Exact {
		// What the controller would store as the same value is no change: without this
		// a transfer of an injector into itself would edit the last digit of each cell.
		old := dst.Values()[i]
		if d := math.Abs(v - old); d < dst.Tolerance() || d <= sameNumber*math.Abs(old) {
			values[i] = old
		} else {
			values[i] = dst.Round(v)
			if in := dst.Clamp(values[i]); in != values[i] {
				values[i] = in
				clamped++
				continue
			}
		}
		if by := math.Abs(values[i] - v); by > sameNumber*math.Abs(v) {
			rounded, most = rounded+1, max(most, by)
		}
	}
	unit := dst.Unit()
	if rounded > 0 {
		j.notes.cautions.Addf("table %s: %d of %d values rounded to the recipient's resolution of %s %s, by %s at most", dst.ID(), rounded, len(values),
			tables.FormatValue(dst.Resolution()), unit, strconv.FormatFloat(most, 'g', 2, 64))
	}
	if clamped > 0 {
		l := dst.Limits()
		j.notes.cautions.Addf("table %s: %d of %d values clamped to the recipient's limits, %s to %s %s: they are not the injector's", dst.ID(), clamped, len(values),
			tables.FormatValue(l.Low), tables.FormatValue(l.High), unit)
	}
	return values
}

// sayHeld says how many values are held past the donor's axes.
func (j *job) sayHeld(m *Member) {
	n := 0
	for _, o := range m.Origin {
		if o == Held {
			n++
		}
	}
	if n > 0 {
		j.notes.cautions.Addf("table %s: %d of %d values lie outside the axes of the donor's %s; its edge value is held", m.Table, n, len(m.Origin), m.Donor)
	}
}

// sayTurned says where the recipient's table was monotonic and no longer is.
func (j *job) sayTurned(m *Member) {
	for _, l := range interp.Lines(m.Before) {
		up, down := l.Trend(m.Before.Values())
		// An offset that no longer falls with voltage, or a flow that no longer rises
		// with pressure, is more often a wrong donor than a strange injector.
		upNow, downNow := l.Trend(m.After.Values())
		if (up || down) && !upNow && !downNow {
			j.notes.cautions.Addf("table %s: %s rose or fell throughout before, and no longer does", m.Table, l.Name())
		}
	}
}

// change makes the changed calibration and its change set.
func (j *job) change(recipient *tables.Calibration) error {
	changed := recipient
	for _, m := range j.result.Members {
		var err error
		if changed, err = changed.WithTable(m.After); err != nil {
			return err
		}
	}
	cs := merge.Diff(recipient, changed)
	cs.MadeBy = "transfer"
	cs.Title = "Injector data from " + cmp.Or(strings.TrimSpace(j.result.Donor), j.donor.file)
	for i := range cs.Edits {
		// Only values were set, in tables that kept unit and axes. Anything else would be
		// a change outside the group's values, and is refused rather than passed on.
		e, ok := cs.Edits[i].(*merge.CellEdit)
		if !ok {
			return fmt.Errorf("transfer made an edit that is no cell's: this is a defect of calsplice")
		}
		k := slices.IndexFunc(j.result.Members, func(m Member) bool { return m.Table == e.Table })
		m := j.result.Members[k]
		e.Why = &merge.Evidence{Unit: m.Unit, Note: j.why(m, e.Row*m.Before.Columns()+e.Column)}
	}
	j.result.Changed, j.result.Changes = changed, cs
	return nil
}

// why says where one value comes from.
func (j *job) why(m Member, i int) string {
	from := "donor's " + m.Donor
	switch m.Origin[i] {
	case Inferred:
		return fmt.Sprintf("inferred: square-root law at %s kPa from the nearest breakpoint of the %s", short(m.Pressure[i]), from)
	case Held:
		return "held: past the axes of the " + from
	case Between:
		return "interpolated between breakpoints of the " + from
	}
	return "a breakpoint of the " + from
}
