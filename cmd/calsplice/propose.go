package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func proposeCommand() *cli.Command {
	return &cli.Command{
		Name:      "propose",
		Usage:     "bounded, evidenced corrections",
		ArgsUsage: "",
		Action:    func(c *cli.Context) error { return errors.New("propose is not built yet") },
	}
}
