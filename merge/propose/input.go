package propose

import (
	"context"
	"errors"
	"fmt"
	"io"

	"calsplice/tables"
)

// Input is what a person gave: a calibration, and drive logs or cell averages.
type Input struct {
	Context context.Context
	Cal     *tables.Calibration
	File    string // the calibration's name, for errors
	Logs    []string
	Cells   []*tables.Calibration
	Stdin   io.Reader // what a log named "-" is read from
	By      string    // of fuel: "" and cells, or fit
	Options Options
}

// Fuel proposes corrections of flow or air from fuel trims.
func Fuel(in *Input) (*Proposal, error) {
	if in.By != "" && in.By != "cells" && in.By != "fit" {
		return nil, fmt.Errorf("--by is %s, want cells or fit", tables.Quote(in.By))
	}
	if len(in.Logs) > 0 {
		return nil, errors.New("propose fuel from logs is not built yet")
	}
	if in.By == "fit" {
		return nil, errors.New("--by fit needs the drive log: cells do not hold what a fit needs")
	}
	cells, err := oneDocument(in.Cells)
	if err != nil {
		return nil, err
	}
	return FuelFromCells(in.Cal, cells, in.Options)
}

// Spark proposes to take advance away where the engine knocks.
func Spark(in *Input) (*Proposal, error) {
	if len(in.Logs) > 0 {
		return nil, errors.New("propose spark from logs is not built yet")
	}
	cells, err := oneDocument(in.Cells)
	if err != nil {
		return nil, err
	}
	return SparkFromCells(in.Cal, cells, in.Options)
}

// oneDocument combines cell averages of several files.
func oneDocument(docs []*tables.Calibration) (*tables.Calibration, error) {
	if len(docs) != 1 {
		return nil, fmt.Errorf("combine the cells first: calsplice cells --combine")
	}
	return docs[0], nil
}
