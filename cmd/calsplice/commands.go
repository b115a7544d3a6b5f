package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"
)

// commands lists every command in the order of the work; each has a file of
// its own.
func commands() []*cli.Command {
	return keeping([]*cli.Command{
		newCommand(), checkCommand(), showCommand(), convertCommand(), takeCommand(), giveCommand(), setCommand(),
		diffCommand(), applyCommand(), mergeCommand(), resolveCommand(),
		rescaleCommand(), transferCommand(), reportCommand(),
		channelsCommand(), cellsCommand(), eventsCommand(), traceCommand(),
		proposeCommand(), explainCommand(),
		gitCommand(), schemaCommand(), completionCommand(), completeCommand(), versionCommand(), helpCommand(), demoCommand(),
	})
}

// wantArgs refuses a command line with the wrong number of arguments; most < 0
// is any number.
func wantArgs(c *cli.Context, least, most int) error {
	n := c.NArg()
	if n < least || most >= 0 && n > most {
		name := strings.TrimPrefix(c.Command.HelpName, c.App.Name+" ")
		if most == 0 {
			return fmt.Errorf("%s takes no arguments: calsplice %s --help has an example", name, name)
		}
		return fmt.Errorf("%s takes %s, not %d: calsplice %s --help has an example", name, c.Command.ArgsUsage, n, name)
	}
	return nil
}
