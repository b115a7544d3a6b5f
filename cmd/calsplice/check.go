package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func checkCommand() *cli.Command {
	return &cli.Command{
		Name:      "check",
		Usage:     "is the document sound; are its values plausible for their roles",
		ArgsUsage: "FILE...",
		Action:    func(c *cli.Context) error { return errors.New("check is not built yet") },
	}
}
