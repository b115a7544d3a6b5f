package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func cellsCommand() *cli.Command {
	return &cli.Command{
		Name:      "cells",
		Usage:     "a drive log as cell averages",
		ArgsUsage: "LOG...",
		Action:    func(c *cli.Context) error { return errors.New("cells is not built yet") },
	}
}
