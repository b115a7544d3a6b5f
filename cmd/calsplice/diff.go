package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func diffCommand() *cli.Command {
	return &cli.Command{
		Name:      "diff",
		Usage:     "what differs between two calibrations, or the cells of two drives",
		ArgsUsage: "OLD NEW",
		Action:    func(c *cli.Context) error { return errors.New("diff is not built yet") },
	}
}
