package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "completion script for a shell",
		ArgsUsage: "SHELL",
		Action:    func(c *cli.Context) error { return errors.New("completion is not built yet") },
	}
}
