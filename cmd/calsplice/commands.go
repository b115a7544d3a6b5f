package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/merge/propose"
)

// commands lists every command in the order of the work; a file of its name has its
// flags and its work.
func commands() []*cli.Command {
	complete := command("complete", "FLAG [WORD...]", "list what may stand for a flag, by the files on the line; completion asks it", nil, complete)
	complete.Hidden = true
	return withChecks([]*cli.Command{
		command("new", "OUT", "begin a calibration: a form to fill in, as a workbook, CSV or JSON", newFlags(), newForm),
		command("check", "FILE...", "check that a file is valid and its values plausible", checkFlags(), check),
		command("show", "FILE", "print tables, shaded by size, or draw them", showFlags(), show),
		command("convert", "IN", "convert a file to another format, or a table to other units", convertFlags(), convert),
		command("take", "GRID", "make a table from a copied grid of numbers", takeFlags(), take),
		command("give", "CAL", "print a table as a plain grid, to paste elsewhere", giveFlags(), give),
		command("set", "CAL [KEY=VALUE...]", "set facts of a calibration, its engine and its tables", setFlags(), set),
		command("diff", "OLD NEW", "compare two calibrations, two drives, or their cells", diffFlags(), diff),
		command("apply", "CAL CHANGES", "apply a change set, all edits or none", applyFlags(), apply),
		command("merge", "BASE OURS THEIRS", "merge two edited calibrations", mergeFlags(), mergeThree),
		command("resolve", "MERGED [CONFLICTS]", "resolve conflicts of a merge", resolveFlags(), resolve),
		command("rescale", "CAL", "put a table onto other axes", rescaleFlags(), rescale),
		command("transfer", "DONOR RECIPIENT", "move injector data from a donor into a calibration", transferFlags(), runTransfer),
		command("report", "FOUND NOW", "write the whole job on one page, for the customer and the file", reportFlags(), report),
		command("channels", "LOG", "list the channels of a drive log, and its faults", channelsFlags(), channels),
		command("cells", "LOG...", "average drive logs by cell", cellsFlags(), average),
		command("events", "LOG", "list each event of a channel, such as knock", eventsFlags(), events),
		command("trace", "LOG", "draw channels over time", traceFlags(), trace),
		group("propose", "fuel|spark", "propose small, bounded corrections with their evidence",
			command("fuel", "CAL LOG|CELLS...", "propose corrections of flow or air from fuel trims", fuelFlags(), proposal(propose.Fuel)),
			command("spark", "CAL LOG|CELLS...", "propose less advance where the engine knocks persistently", sparkFlags(), proposal(propose.Spark))),
		command("explain", "CAL LOG...", "say which cause fits the fuel trims and the knock retard of a drive", explainFlags(), explain),
		group("git", "", "make git compare and merge calibrations cell by cell", gitCommands()...),
		command("schema", "[NAME]", "print the JSON Schemas of the formats", nil, printSchema),
		command("completion", "SHELL", "print completion for bash, zsh, fish or powershell", nil, completion),
		complete,
		command("version", "", "print the version of this program", versionFlags(), version),
		command("help", "[COMMAND...|TOPIC]", "help on a command or a topic", nil, help),
		command("demo", "", "run the whole job on an invented engine", demoFlags(), runDemo),
	})
}

func command(name, arguments, usage string, flags []cli.Flag, do cli.ActionFunc) *cli.Command {
	return &cli.Command{Name: name, ArgsUsage: arguments, Usage: usage, Flags: flags, Action: do}
}

// group is a command that has others.
func group(name, arguments, usage string, list ...*cli.Command) *cli.Command {
	g := command(name, arguments, usage, nil, func(c *cli.Context) error {
		if c.NArg() > 0 {
			return unknownCommand("calsplice "+name, c.Args().First(), list)
		}
		return cli.ShowSubcommandHelp(c)
	})
	g.Subcommands = list
	return g
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
