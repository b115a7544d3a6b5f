package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/shell"
)

func completion(c *cli.Context) error {
	script, err := shell.Script(c.Args().First(), c.App.Name, c.App.Commands, shell.Values{
		Flags:     choiceFlags(),
		Files:     fileWords,
		Arguments: map[string][]string{"completion": shell.Shells, "schema": schemaNames()}})
	if err != nil {
		return err
	}
	_, err = io.WriteString(c.App.Writer, script)
	return err
}
