package propose

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"calsplice/interp/cells"
	"calsplice/interp/engine"
	"calsplice/tables"
)

// Input is what a person gave: a calibration, and drive logs or cell averages. Logs say
// more: why the trims are what they are, which instants are evidence, and where retard
// began. Averages serve where the log is not at hand, and the report says what they hide.
type Input struct {
	Context context.Context
	Cal     *tables.Calibration
	Logs    []cells.Log // each is opened once
	Cells   []*tables.Calibration
	Files   []string // that the cells are in, for errors to name
	By      string   // of fuel: "" and cells, or fit
	Options Options
}

// Fuel proposes corrections of flow or air from fuel trims.
func Fuel(in *Input) (*Proposal, error) {
	if in.By != "" && in.By != "cells" && in.By != "fit" {
		return nil, fmt.Errorf("--by is %s, expected cells or fit", tables.Quote(in.By))
	}
	// Before any log is read, for that may take minutes.
	if err := cmp.Or(oneSet(in.Cal), in.Options.Validate()); err != nil {
		return nil, err
	}
	from := in.fuelFromCells
	if len(in.Logs) > 0 {
		from = in.fuelFromLogs
	} else if in.By == "fit" {
		return nil, fmt.Errorf("--by fit needs the drive log: cells do not hold what a fit needs")
	}
	r, err := from()
	if err != nil {
		return nil, err
	}
	return r.proposal(in.Cal), nil
}

// averages are the cell averages given, as one document; one alone needs nothing
// that combining does.
func (in *Input) averages() (*tables.Calibration, error) {
	if len(in.Cells) == 1 {
		return in.Cells[0], nil
	}
	return cells.Combine(in.Cells...)
}

// grid is what the averages say of a table: an error names their files.
func (in *Input) grid(cells *tables.Calibration, target *tables.Table, channels ...string) (*grid, error) {
	g, err := readGrid(cells, target, channels...)
	if err != nil && in.Files != nil {
		err = &tables.Fault{File: strings.Join(in.Files, ", "), What: err.Error()}
	}
	return g, err
}

// oneSet refuses two injectors a cylinder, and two sets of injectors. It keeps the algebra
// true, which knows one injector a cylinder.
func oneSet(cal *tables.Calibration) error {
	if err := engine.OneSet(cal.Engine()); err != nil {
		return err
	}
	for _, role := range tables.InjectorGroup {
		if list := cal.ByRole(role); len(list) > 1 {
			return fmt.Errorf("table %s is a second one of role %s (%s is the first): two sets of injectors are not modelled; where there is one, give the other table another role",
				list[1].ID(), role, list[0].ID())
		}
	}
	return nil
}

// Spark proposes to take advance away where the engine knocks.
func Spark(in *Input) (*Proposal, error) {
	if err := in.Options.Validate(); err != nil {
		return nil, err
	}
	target, err := sparkTarget(in.Cal, in.Options.Target)
	if err != nil {
		return nil, err
	}
	from := in.sparkFromCells
	if len(in.Logs) > 0 {
		from = in.sparkFromLogs
	}
	r, err := from(target)
	if err == nil {
		err = r.finishSpark(in.Cal, target)
	}
	if err != nil {
		return nil, err
	}
	return r.proposal(in.Cal), nil
}

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
