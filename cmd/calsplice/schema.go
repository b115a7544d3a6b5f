package main

import (
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/schema"
)

func schemaCommand() *cli.Command {
	return &cli.Command{
		Name:      "schema",
		Usage:     "JSON Schemas of the formats",
		ArgsUsage: "[NAME]",
		Description: "Prints the JSON Schema (2020-12) of a document: calibration, cells, changes or\n" +
			"conflicts; of a calibration where no NAME is given.\n\n" +
			"Example:\n" +
			"  calsplice schema changes > changes.schema.json",
		Action: func(c *cli.Context) error {
			if err := wantArgs(c, 0, 1); err != nil {
				return err
			}
			name := c.Args().First()
			if name == "" {
				name = schema.Names[0]
			}
			text, err := schema.Text(name)
			if err != nil {
				return err
			}
			_, err = c.App.Writer.Write(text)
			return err
		},
	}
}
