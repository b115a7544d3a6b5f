package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func explainCommand() *cli.Command {
	return &cli.Command{
		Name:      "explain",
		Usage:     "which cause fits the trims",
		ArgsUsage: "CAL LOG...",
		Action:    func(c *cli.Context) error { return errors.New("explain is not built yet") },
	}
}
