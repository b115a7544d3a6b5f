package propose

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"calsplice/merge/cause"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// explained is a result with one leading cause, or two together.
func explained(certain bool, causes ...cause.Cause) *verdict {
	r := &cause.Result{Certain: certain, Verdict: "the headline", Settle: "the test"}
	for _, c := range causes {
		r.Found = append(r.Found, cause.Finding{Cause: c})
	}
	if len(causes) == 2 {
		r.Together = &cause.Pair{Causes: [2]cause.Cause(causes)}
	}
	return &verdict{res: r, first: []string{"the headline"}}
}

// TestGate: a drive edits only where the cause is certain and the table holds
// it; every refusal names the way past.
func TestGate(t *testing.T) {
	one := func(by string) *Report { return &Report{By: by, Cells: []Cell{{From: 1, To: 2}}} }
	apart := explained(true, cause.FlowScale)
	apart.res.Banks = &cause.Banks{Difference: 6, SE: 0.5}
	for _, row := range []struct {
		name string
		v    *verdict
		role tables.Role
		by   string
		want string // of the refusal; "" for none
	}{
		{"flow scale", explained(true, cause.FlowScale), tables.InjectorFlow, "cells", ""},
		{"flow scale by fit", explained(true, cause.FlowScale), tables.InjectorFlow, "fit", ""},
		{"flow scale into the meter", explained(true, cause.FlowScale), tables.AirMeter, "cells", "table x does not hold this, a table with role injector.flow does"},
		{"flow scale not certain", explained(false, cause.FlowScale), tables.InjectorFlow, "cells", "no table is changed before the cause is certain. the test"},
		{"flow scale, banks apart", apart, tables.InjectorFlow, "cells", "a fault is repaired, not calibrated away. the test"},
		{"offset by cells", explained(true, cause.InjectorOffset), tables.InjectorFlow, "cells", "use --by fit"},
		{"offset by default", explained(true, cause.InjectorOffset), tables.InjectorFlow, "", "use --by fit"},
		{"offset by fit", explained(true, cause.InjectorOffset), tables.InjectorFlow, "fit", ""},
		{"offset not certain", explained(false, cause.InjectorOffset), tables.InjectorFlow, "fit", "the headline"},
		{"flow with offset", explained(true, cause.InjectorOffset, cause.FlowScale), tables.InjectorFlow, "fit", ""},
		{"flow with offset by cells", explained(true, cause.FlowScale, cause.InjectorOffset), tables.InjectorFlow, "cells", "use --by fit"},
		{"flow with a leak", explained(true, cause.FlowScale, cause.UnmeteredAir), tables.InjectorFlow, "cells", "not calibrated away"},
		{"flow with a meter", explained(true, cause.FlowScale, cause.AirMeter), tables.InjectorFlow, "cells", "no table is changed"},
		{"meter", explained(true, cause.AirMeter), tables.AirMeter, "cells", ""},
		{"meter into flow", explained(true, cause.AirMeter), tables.InjectorFlow, "cells", "a table with role air.meter does"},
		{"efficiency", explained(true, cause.VolumetricEfficiency), tables.AirVolumetricEfficiency, "cells", ""},
		{"efficiency into flow", explained(true, cause.VolumetricEfficiency), tables.InjectorFlow, "cells", "a table with role air.volumetric_efficiency does"},
		{"leak", explained(true, cause.UnmeteredAir), tables.InjectorFlow, "cells", "a fault is repaired, not calibrated away. the test"},
		{"leak not certain", explained(false, cause.UnmeteredAir), tables.InjectorFlow, "cells", "a fault is repaired"},
		{"not examined", &verdict{first: []string{"why"}}, tables.InjectorFlow, "cells", "why\nno table is changed"},
		{"loop never closed", gate(&fuelEvidence{drive: &settled{kind: byLambda}}, &Options{}), tables.InjectorFlow, "cells", "causes were not examined"},
	} {
		target, err := tables.NewTable(tables.Fields{ID: "x", Role: row.role, Unit: "1", Values: []float64{1}})
		if err != nil {
			t.Fatal(err)
		}
		err = row.v.refuse(one(row.by), target, &Options{})
		switch {
		case row.want == "" && err != nil:
			t.Errorf("%s: %v, want no refusal", row.name, err)
		case row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want) || !strings.Contains(err.Error(), "--despite-cause")):
			t.Errorf("%s: %v, want %q and --despite-cause", row.name, err, row.want)
		}
		if err := row.v.refuse(one(row.by), target, &Options{DespiteCause: true}); err != nil {
			t.Errorf("%s: %v with --despite-cause", row.name, err)
		}
		if err := row.v.refuse(&Report{By: row.by, Cells: make([]Cell, 3)}, target, &Options{}); err != nil {
			t.Errorf("%s: %v without an edit", row.name, err)
		}
	}
}

// TestCauseChoosesTheTable: without a target the certain cause does, and what
// is not certain leaves the flow table.
func TestCauseChoosesTheTable(t *testing.T) {
	scalar := func(id string, role tables.Role) tables.Fields {
		return tables.Fields{ID: id, Role: role, Unit: "1", Values: []float64{1}}
	}
	cal := calWith(t, scalar("flow", tables.InjectorFlow), scalar("meter", tables.AirMeter), scalar("ve", tables.AirVolumetricEfficiency))
	for _, row := range []struct {
		v        *verdict
		id, want string
	}{
		{explained(true, cause.FlowScale), "", "flow"},
		{explained(true, cause.AirMeter), "", "meter"},
		{explained(true, cause.VolumetricEfficiency), "", "ve"},
		{explained(true, cause.VolumetricEfficiency), "flow", "flow"},
		{explained(false, cause.AirMeter), "", "flow"},
		{explained(true, cause.UnmeteredAir), "", "flow"},
	} {
		got, _, err := row.v.target(cal, row.id)
		if err != nil || got.ID() != row.want {
			t.Errorf("%s, certain %v, --target %q: %v, %v, want %s", row.v.res.Found[0].Cause, row.v.res.Certain, row.id, got, err, row.want)
		}
	}
}

// TestNoCauseNoEdit: a cell that would be corrected is not where the trims need
// no cause, by cells and by fit alike.
func TestNoCauseNoEdit(t *testing.T) {
	e := good(4)
	if _, v := (&Options{DeadBand: 1, MinCount: 30, MinVisits: 3}).judge(&e); v != Proposed {
		t.Errorf("verdict is %s, want proposed", v)
	}
	if _, v := (&Options{DeadBand: 1, MinCount: 30, MinVisits: 3, none: true}).judge(&e); v != NoCause {
		t.Errorf("verdict is %s, want %s", v, NoCause)
	}
	truth := testdrive.Four()
	cal := testdrive.Scaled(truth, "injector.flow", 1.06, 0)
	logs := logged(t, cal, testdrive.Plant{Truth: truth}, testdrive.DriveOptions{Seed: 4, Minutes: 10})
	d := readDrive(t, cal, logs)
	for _, none := range []bool{false, true} {
		opt := Defaults()
		opt.none = none
		p, err := proposed(cal, cal.Table("injector.flow"), "fit", func(r *Report) error { return r.byFit(cal.Table("injector.flow"), d, &opt) })
		if err != nil {
			t.Fatal(err)
		}
		if none == (len(p.Changes.Edits) > 0) {
			t.Errorf("by fit, no cause %v: %d edits", none, len(p.Changes.Edits))
		}
	}
}

// TestFullLoadIsNamedWhereItWas: neither an engine that stands nor 72 kPa is
// full load.
func TestFullLoadIsNamedWhereItWas(t *testing.T) {
	truth := testdrive.Four()
	l := testdrive.Drive(truth, testdrive.Plant{Truth: truth}, testdrive.DriveOptions{Seed: 4, Minutes: 10})
	speed, manifold := l.Column("engine_speed"), l.Column("manifold_pressure")
	for i := range 20 { // the key is on, the engine stands
		speed[i], manifold[i] = 0, 98.5
	}
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	d := readDrive(t, truth, asLog(truth, b.Bytes()))
	if d.most.Speed < 500 || d.most.Manifold > 98 {
		t.Errorf("the highest load is at %.0f r/min and %.1f kPa", d.most.Speed, d.most.Manifold)
	}
	for _, row := range []struct {
		manifold float64
		named    bool
	}{{96, true}, {72, false}, {math.NaN(), false}} {
		d.most.Manifold = row.manifold
		if f := d.fullLoad(truth.Table("injector.flow"), nil, divide); (f != nil) != row.named {
			t.Errorf("%v kPa: full load is %+v", row.manifold, f)
		}
	}
}
