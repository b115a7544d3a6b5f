package main

import (
	"errors"

	"github.com/urfave/cli/v2"
)

func gitCommand() *cli.Command {
	return &cli.Command{
		Name:      "git",
		Usage:     "diff and merge drivers for calibration files",
		ArgsUsage: "",
		Action:    func(c *cli.Context) error { return errors.New("git is not built yet") },
	}
}
