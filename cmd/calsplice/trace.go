package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func traceCommand() *cli.Command {
	return &cli.Command{
		Name:      "trace",
		Usage:     "channels over time as a picture",
		ArgsUsage: "LOG",
		Action:    func(c *cli.Context) error { return errors.New("trace is not built yet") },
	}
}
