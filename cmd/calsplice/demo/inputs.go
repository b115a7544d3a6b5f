// Package demo invents what the demo works on: a rescue van that gets the
// injectors of a harbour tender, its drives, and a colleague's edits. Nothing
// in it is a real vehicle, engine or workshop, and no number was measured.
package demo

import (
	"io"

	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Van is the calibration as the van came in.
func Van() (*tables.Calibration, error) {
	c := testdrive.Four().Contents()
	c.Name, c.Notes = "Fell rescue van, as found", "Came in with a lean idle. Injectors to be replaced by a tender's."
	return tables.NewCalibration(c)
}

// Delivered is the calibration that the van once left another workshop with:
// less advance in one corner, another title.
func Delivered() (*tables.Calibration, error) {
	van, err := Van()
	if err != nil {
		return nil, err
	}
	spark := van.Table("spark.advance")
	f := spark.Fields()
	f.Title, f.Notes = "Spark advance", "Set for premium fuel."
	f.Values = append([]float64(nil), f.Values...)
	for r := 3; r < 6; r++ {
		for c := 4; c < 7; c++ {
			f.Values[r*spark.Columns()+c] -= 2
		}
	}
	t, err := tables.NewTable(f)
	if err != nil {
		return nil, err
	}
	if van, err = van.WithTable(t); err != nil {
		return nil, err
	}
	c := van.Contents()
	c.Name = "Fell rescue van, as delivered two years ago"
	return tables.NewCalibration(c)
}

// Tender is the donor: larger injectors, characterised in other units on other
// axes at another pressure.
func Tender() (*tables.Calibration, error) {
	points := func(quantity, unit string, p ...float64) (*tables.Axis, error) {
		return tables.NewAxis(quantity, unit, p)
	}
	pressure, err := points(tables.DifferentialPressure, "psi", 30, 40, 50, 60, 70)
	if err != nil {
		return nil, err
	}
	volts, err := points(tables.BatteryVoltage, "V", 8, 9, 10, 11, 12, 13, 14, 15, 16)
	if err != nil {
		return nil, err
	}
	heads, err := points(tables.DifferentialPressure, "psi", 35, 50, 65)
	if err != nil {
		return nil, err
	}
	fields := []tables.Fields{
		{ID: "fuel.injector_size", Title: "Injector flow", Role: tables.InjectorFlow, Unit: "lb/h", Resolution: 0.01,
			X: pressure, Values: []float64{22.96, 26.51, 29.64, 32.47, 35.07}},
		{ID: "fuel.injector_lag", Title: "Injector offset", Role: tables.InjectorOffset, Unit: "us", Resolution: 1,
			X: volts, Y: heads, Values: []float64{
				1990, 1680, 1420, 1230, 1080, 960, 860, 780, 710,
				2060, 1740, 1470, 1275, 1120, 995, 890, 805, 735,
				2140, 1800, 1525, 1325, 1160, 1035, 925, 835, 760}},
		{ID: "fuel.shortest_pulse", Title: "Shortest pulse", Role: tables.InjectorMinPulse, Unit: "us", Resolution: 1, Values: []float64{1100}},
		{ID: "fuel.cranking", Title: "Cranking pulse", Unit: "ms", Resolution: 0.1, Values: []float64{12}},
	}
	var list []*tables.Table
	for _, f := range fields {
		t, err := tables.NewTable(f)
		if err != nil {
			return nil, err
		}
		list = append(list, t)
	}
	return tables.NewCalibration(tables.Contents{Name: "Harbour pilot tender, injectors on the bench", Tables: list,
		Engine: &tables.Engine{Cylinders: 4, Injectors: 4,
			RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold},
			FuelDensity:  &tables.Measure{Value: 0.745, Unit: "kg/L"}}})
}

// Colleague is a calibration with a colleague's edits: softer spark at idle,
// and a note.
func Colleague(c *tables.Calibration) (*tables.Calibration, error) {
	spark := c.Table("spark.advance")
	f := spark.Fields()
	f.Notes = "Idle softened for the cold start complaint."
	f.Values = append([]float64(nil), f.Values...)
	for col := range 2 {
		f.Values[col] -= 1.5
	}
	t, err := tables.NewTable(f)
	if err != nil {
		return nil, err
	}
	return c.WithTable(t)
}

// A Trip is one drive: what is wrong with the van, and the road.
type Trip struct {
	Fault testdrive.Fault
	Seed  uint64
}

// The demo's drives. The injectors that were fitted flow less than their
// donor's tables say; a year later a manifold gasket leaks.
var (
	Fitted = Trip{testdrive.Fault{FlowScale: 0.93}, 11}
	Again  = Trip{testdrive.Fault{FlowScale: 0.93}, 12}
	Leaky  = Trip{testdrive.Fault{FlowScale: 0.93, Leak: 0.35}, 13}
	// After months of standing the fuel is stale; then the tank is filled anew.
	Stale     = Trip{testdrive.Fault{FlowScale: 0.93, OldFuel: 9}, 14}
	Refuelled = Trip{testdrive.Fault{FlowScale: 0.93}, 15}
)

// Drive drives the van, whose injectors truly are those of fitted, under a
// calibration, and writes the log.
func (trip Trip) Drive(path string, fitted, cal *tables.Calibration) error {
	log := testdrive.Drive(cal, testdrive.Plant{Truth: fitted, Fault: trip.Fault},
		testdrive.DriveOptions{Seed: trip.Seed, Minutes: 20, Hz: 10})
	return tablefile.Replace(path, nil, func(w io.Writer) error { return log.WriteCSV(w) })
}
