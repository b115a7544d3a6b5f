package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func applyCommand() *cli.Command {
	return &cli.Command{
		Name:      "apply",
		Usage:     "apply or undo a change set",
		ArgsUsage: "CAL CHANGES",
		Action:    func(c *cli.Context) error { return errors.New("apply is not built yet") },
	}
}
