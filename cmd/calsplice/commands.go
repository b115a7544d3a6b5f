package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/manual"
	"calsplice/merge/propose"
)

// commands lists every command in the order of the work; what each takes stands in
// help.txt.
func commands() []*cli.Command { return withFlags(bareCommands(), "", "") }

// commandsFor lists them for a command line. Most need the flags of the one command
// that they begin with, and start sooner without those of the others.
func commandsFor(args []string) []*cli.Command {
	if len(args) == 0 || slices.Contains([]string{"help", "completion", "complete"}, args[0]) {
		return commands()
	}
	return withFlags(bareCommands(), "", args[0])
}

// withFlags gives flags to the commands of a list, and to those below them: to all, or
// to the one that is named.
func withFlags(list []*cli.Command, before, only string) []*cli.Command {
	for _, c := range list {
		if only == "" || c.Name == only {
			for _, d := range manual.Of(before + c.Name).Flags() {
				c.Flags = append(c.Flags, flagOf(d))
			}
			withFlags(c.Subcommands, c.Name+" ", "")
		}
	}
	return list
}

func bareCommands() []*cli.Command {
	complete := command("complete", complete)
	complete.Hidden = true
	return []*cli.Command{
		command("new", newForm), command("check", check), command("show", show), command("convert", convert), command("take", take),
		command("give", give), command("set", set),
		command("diff", diff), command("apply", apply), command("merge", mergeThree), command("resolve", resolve),
		command("rescale", rescale), command("transfer", runTransfer), command("report", report),
		command("channels", channels), command("cells", average), command("events", events), command("trace", trace),
		group("propose", command("propose fuel", proposal(propose.Fuel)), command("propose spark", proposal(propose.Spark))),
		command("explain", explain),
		group("git", command("git install", gitInstall), command("git remove", gitRemove), command("git doctor", gitDoctor),
			command("git textconv", gitTextconv), command("git pre-commit", gitPreCommit), command("git merge-driver", gitMerge), command("git merge-tool", gitTool)),
		command("schema", printSchema), command("completion", completion), complete, command("version", version), command("help", help),
		command("demo", runDemo),
	}
}

// command is what help.txt has under a name, and what it does once the line is
// checked.
func command(name string, do cli.ActionFunc) *cli.Command {
	s := manual.Of(name)
	return &cli.Command{Name: name[strings.LastIndexByte(name, ' ')+1:], ArgsUsage: s.Arguments, Usage: s.Usage, Action: do,
		Before: checkLine, After: warnOverlaps, OnUsageError: wrongUsage, HideHelpCommand: true}
}

// group is a command that has others.
func group(name string, list ...*cli.Command) *cli.Command {
	g := command(name, func(c *cli.Context) error {
		if c.NArg() > 0 {
			return unknownCommand("calsplice "+name, c.Args().First(), list)
		}
		return cli.ShowSubcommandHelp(c)
	})
	g.Subcommands, g.Before, g.After = list, nil, nil
	return g
}

// checkLine checks a command line before the command begins: how many arguments
// there are, and that no output would write over an input. Flags check themselves.
func checkLine(c *cli.Context) error { return cmp.Or(checkArguments(c), keepInputs(c)) }

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
