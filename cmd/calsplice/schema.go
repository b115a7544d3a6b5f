package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func schemaCommand() *cli.Command {
	return &cli.Command{
		Name:      "schema",
		Usage:     "JSON Schemas of the formats",
		ArgsUsage: "[NAME]",
		Action:    func(c *cli.Context) error { return errors.New("schema is not built yet") },
	}
}
