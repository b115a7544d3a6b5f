package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func showCommand() *cli.Command {
	return &cli.Command{
		Name:      "show",
		Usage:     "tables as shaded text",
		ArgsUsage: "FILE",
		Action:    func(c *cli.Context) error { return errors.New("show is not built yet") },
	}
}
