package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func convertCommand() *cli.Command {
	return &cli.Command{
		Name:      "convert",
		Usage:     "one spelling into another",
		ArgsUsage: "IN",
		Action:    func(c *cli.Context) error { return errors.New("convert is not built yet") },
	}
}
