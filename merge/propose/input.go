package propose

import (
	"context"
	"fmt"

	"calsplice/interp/cells"
	"calsplice/tables"
)

// Input is what a person gave: a calibration, and drive logs or cell averages.
type Input struct {
	Context context.Context
	Cal     *tables.Calibration
	Logs    []cells.Log // each is opened more than once
	Cells   []*tables.Calibration
	By      string // of fuel: "" and cells, or fit
	Options Options
}

// Fuel proposes corrections of flow or air from fuel trims.
func Fuel(in *Input) (*Proposal, error) {
	if in.By != "" && in.By != "cells" && in.By != "fit" {
		return nil, fmt.Errorf("--by is %s, want cells or fit", tables.Quote(in.By))
	}
	if len(in.Logs) > 0 {
		return FuelFromLogs(in.Context, in.Cal, in.Logs, in.By, in.Options)
	}
	if in.By == "fit" {
		return nil, fmt.Errorf("--by fit needs the drive log: cells do not hold what a fit needs")
	}
	doc, err := cells.Combine(in.Cells...)
	if len(in.Cells) == 1 {
		doc, err = in.Cells[0], nil
	}
	if err != nil {
		return nil, err
	}
	return FuelFromCells(in.Cal, doc, in.Options)
}

// Spark proposes to take advance away where the engine knocks.
func Spark(in *Input) (*Proposal, error) {
	if len(in.Logs) > 0 {
		return SparkFromLogs(in.Context, in.Cal, in.Logs, in.Options)
	}
	doc, err := cells.Combine(in.Cells...)
	if len(in.Cells) == 1 {
		doc, err = in.Cells[0], nil
	}
	if err != nil {
		return nil, err
	}
	return SparkFromCells(in.Cal, doc, in.Options)
}
