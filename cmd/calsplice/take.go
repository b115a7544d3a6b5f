package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func takeCommand() *cli.Command {
	return &cli.Command{
		Name:      "take",
		Usage:     "a bare grid into a table",
		ArgsUsage: "GRID",
		Action:    func(c *cli.Context) error { return errors.New("take is not built yet") },
	}
}
