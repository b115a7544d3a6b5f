package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func mergeCommand() *cli.Command {
	return &cli.Command{
		Name:      "merge",
		Usage:     "two people's work into one",
		ArgsUsage: "BASE OURS THEIRS",
		Action:    func(c *cli.Context) error { return errors.New("merge is not built yet") },
	}
}
