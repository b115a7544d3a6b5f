package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func resolveCommand() *cli.Command {
	return &cli.Command{
		Name:      "resolve",
		Usage:     "settle conflicts",
		ArgsUsage: "MERGED CONFLICTS",
		Action:    func(c *cli.Context) error { return errors.New("resolve is not built yet") },
	}
}
