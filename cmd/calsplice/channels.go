package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func channelsCommand() *cli.Command {
	return &cli.Command{
		Name:      "channels",
		Usage:     "what is in a drive log",
		ArgsUsage: "LOG",
		Action:    func(c *cli.Context) error { return errors.New("channels is not built yet") },
	}
}
