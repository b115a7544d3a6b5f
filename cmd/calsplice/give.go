package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func giveCommand() *cli.Command {
	return &cli.Command{
		Name:      "give",
		Usage:     "a table as a bare grid",
		ArgsUsage: "CAL",
		Action:    func(c *cli.Context) error { return errors.New("give is not built yet") },
	}
}
