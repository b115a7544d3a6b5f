package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func eventsCommand() *cli.Command {
	return &cli.Command{
		Name:      "events",
		Usage:     "each event of a channel: when, how long, how much",
		ArgsUsage: "LOG",
		Action:    func(c *cli.Context) error { return errors.New("events is not built yet") },
	}
}
