package sift

import (
	"slices"

	"calsplice/interp/cells/axes"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// EffectivePulse is the channel effective_pulse of a calibration's injectors,
// the pulse width less the offset at the reading's voltage (and pressure, where
// the table has it), for a log's Options. It is nothing where the calibration
// does not have one table of offsets that can be computed with.
func EffectivePulse(cal *tables.Calibration) *drivelog.EffectivePulse {
	found := cal.ByRole(tables.InjectorOffset)
	if len(found) != 1 {
		return nil
	}
	offset, err := lookup.Bind(found[0])
	if err != nil || slices.Contains(offset.Quantities(), tables.EffectivePulse) {
		return nil // an offset that depends on what it gives
	}
	inMS, err := unit.Find(found[0].Unit(), "ms")
	if err != nil {
		return nil
	}
	inputs := []string{"pulse_width"}
	for _, quantity := range offset.Quantities() {
		inputs = append(inputs, axes.Channel(quantity))
	}
	return &drivelog.EffectivePulse{Inputs: inputs, Func: func(in []float64) float64 {
		at := [2]float64{}
		copy(at[:], in[1:])
		return in[0] - inMS.Apply(offset.Read(at[0], at[1]))
	}}
}
