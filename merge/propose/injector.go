package propose

import (
	"fmt"

	"calsplice/interp/engine"
	"calsplice/tables"
)

// injectorSaid is what a proposal says of the injector that it computed with. A
// table that cannot be computed with is no error: a correction by cells does
// not need it.
func injectorSaid(j *engine.Injector) (said []string) {
	if j.FlowTable != nil && j.Density > 0 {
		said = append(said, fmt.Sprintf("table %s is a volume flow: the calibration's fuel density of %s kg/L makes it a mass", j.FlowTable.Table().ID(), tables.FormatValue(j.Density)))
	}
	for _, err := range j.Faults {
		said = append(said, "not computed with: "+err.Error())
	}
	return said
}

func only(cal *tables.Calibration, role tables.Role) *tables.Table {
	if found := cal.ByRole(role); len(found) == 1 {
		return found[0]
	}
	return nil
}
