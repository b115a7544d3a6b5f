package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func rescaleCommand() *cli.Command {
	return &cli.Command{
		Name:      "rescale",
		Usage:     "a table onto other axes",
		ArgsUsage: "CAL",
		Action:    func(c *cli.Context) error { return errors.New("rescale is not built yet") },
	}
}
