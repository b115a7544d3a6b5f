package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func demoCommand() *cli.Command {
	return &cli.Command{
		Name:      "demo",
		Usage:     "the whole job on an invented engine",
		ArgsUsage: "",
		Action:    func(c *cli.Context) error { return errors.New("demo is not built yet") },
	}
}
