package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"
)

// commands lists every command in the order of the work; each has a file of
// its own.
func commands() []*cli.Command {
	return withChecks([]*cli.Command{
		newCommand(), checkCommand(), showCommand(), convertCommand(), takeCommand(), giveCommand(), setCommand(),
		diffCommand(), applyCommand(), mergeCommand(), resolveCommand(),
		rescaleCommand(), transferCommand(), reportCommand(),
		channelsCommand(), cellsCommand(), eventsCommand(), traceCommand(),
		proposeCommand(), explainCommand(),
		gitCommand(), schemaCommand(), completionCommand(), completeCommand(), versionCommand(), helpCommand(), demoCommand(),
	})
}

// withChecks makes commands check their command line before they begin: how many
// arguments there are, flags that have a few values, and that no output would
// write over an input. Numbers are checked by their flags.
func withChecks(list []*cli.Command) []*cli.Command {
	for _, cmd := range list {
		if len(cmd.Subcommands) > 0 {
			withChecks(cmd.Subcommands)
			continue
		}
		cmd.Before = func(c *cli.Context) error {
			for _, check := range []func(*cli.Context) error{checkArguments, checkChoices, keepInputs} {
				if err := check(c); err != nil {
					return err
				}
			}
			return nil
		}
		cmd.After = warnOverlaps
	}
	return list
}

// checkArguments refuses a command line with the wrong number of arguments. The
// usage says how many: one for each word. A word in brackets may be left out,
// and after "..." any number may follow.
func checkArguments(c *cli.Context) error {
	least, most := 0, 0
	for word := range strings.FieldsSeq(c.Command.ArgsUsage) {
		most++
		if !strings.HasPrefix(word, "[") {
			least++
		}
		if strings.Contains(word, "...") {
			most = math.MaxInt
			break
		}
	}
	if n := c.NArg(); n < least || n > most {
		name := strings.TrimPrefix(c.Command.HelpName, c.App.Name+" ")
		if most == 0 {
			return fmt.Errorf("%s takes no arguments: calsplice %s --help has an example", name, name)
		}
		return fmt.Errorf("%s takes %s, not %d: calsplice %s --help has an example", name, c.Command.ArgsUsage, n, name)
	}
	return nil
}
