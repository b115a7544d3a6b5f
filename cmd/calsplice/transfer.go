package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func transferCommand() *cli.Command {
	return &cli.Command{
		Name:      "transfer",
		Usage:     "injector data from a donor, in the recipient's terms",
		ArgsUsage: "DONOR RECIPIENT",
		Action:    func(c *cli.Context) error { return errors.New("transfer is not built yet") },
	}
}
