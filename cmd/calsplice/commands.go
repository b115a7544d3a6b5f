package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/manual"
	"calsplice/merge/propose"
	"calsplice/tables"
)

const programName = "calsplice"

// command is what a name on the command line does; nothing for a group of commands.
// What it takes stands in help.txt.
type command struct {
	name string
	do   func(*input)
}

// commands lists every command in the order of the work.
func commands() []command {
	return []command{
		{"new", newForm}, {"check", checkFiles}, {"show", show}, {"convert", convert}, {"take", take}, {"give", give}, {"set", set},
		{"diff", diff}, {"apply", apply}, {"merge", mergeThree}, {"resolve", resolve},
		{"rescale", rescale}, {"transfer", runTransfer}, {"report", report},
		{"channels", channels}, {"cells", average}, {"events", events}, {"trace", trace},
		{"propose", nil}, {"propose fuel", proposal(propose.Fuel)}, {"propose spark", proposal(propose.Spark)},
		{"explain", explain},
		{"git", nil}, {"git install", gitInstall}, {"git remove", gitRemove}, {"git doctor", gitDoctor},
		{"git textconv", gitTextconv}, {"git pre-commit", gitPreCommit}, {"git merge-driver", gitMerge}, {"git merge-tool", gitTool},
		{"schema", printSchema}, {"completion", completion}, {"complete", complete}, {"version", version}, {"help", help}, {"demo", runDemo},
	}
}

// sections are what help.txt has of the commands that people type.
func sections() (list []*manual.Section) {
	for _, c := range commands() {
		if c.name != "complete" {
			list = append(list, manual.Of(c.name))
		}
	}
	return list
}

// named is the command that a line begins with, and what is behind its name. A flag
// between the words of a name is the command's.
func named(words []string) (c command, rest []string) {
	list := commands()
	for ; len(words) > 0; words = words[1:] {
		if strings.HasPrefix(words[0], "-") && c.do == nil {
			rest = append(rest, words[0])
			continue
		}
		name := strings.TrimPrefix(c.name+" "+words[0], " ")
		i := slices.IndexFunc(list, func(c command) bool { return c.name == name })
		if i < 0 {
			break
		}
		c = list[i]
	}
	return c, append(rest, words...)
}

// perform does what a command line says.
func (in *input) perform(words []string) error { return in.takeApart(words, in.do) }

// takeApart lets the command library take a command line apart, and then goes on with
// the command that it begins with. Only that command's flags are declared, so that a
// program starts sooner.
func (in *input) takeApart(words []string, then func(command) error) error {
	c, rest := named(words)
	in.command, in.values = manual.Of(c.name), map[string][]string{}
	app := &cli.App{Name: programName, HideHelp: true, HideVersion: true, Writer: in.stdout, ErrWriter: in.stderr,
		Action: func(ctx *cli.Context) error {
			in.args = ctx.Args().Slice()
			return then(c)
		},
		OnUsageError: func(_ *cli.Context, err error, _ bool) error { return in.misused(err) }}
	for _, d := range append(in.command.Flags(), manual.Declared{Names: []string{"help", "h"}}) {
		for _, name := range d.Names {
			app.Flags = append(app.Flags, &cli.GenericFlag{Name: name, Value: typedValue{in.values, d}})
		}
	}
	return app.RunContext(in.ctx, append([]string{programName}, in.flagsFirst(rest)...))
}

// do runs a command, once its line is taken apart and checked. Errors on the way to a
// command name the commands that there are.
func (in *input) do(c command) error {
	switch {
	case c.do == nil && len(in.args) > 0:
		return unknownCommand(c.name, in.args[0])
	case c.do == nil || in.given("help"):
		theManual().Show(in.stdout, in.command)
		return nil
	}
	err := attempt(func() {
		in.checkLine()
		c.do(in)
	})
	if in.overlaps != nil {
		in.caution(in.overlaps.Told()...)
	}
	if err == nil && in.found {
		return errReport
	}
	return err
}

// unknownCommand says that there is no such command, or none in a group.
func unknownCommand(group, name string) error {
	names := tables.Each(manual.Below(sections(), group), (*manual.Section).Word)
	s := tables.Unknown("command", name, names)
	if len(names) > 10 && !strings.HasSuffix(s, "?") {
		s = "there is no command " + tables.Quote(name)
	}
	return fmt.Errorf("%s; %s --help lists them", s, strings.TrimSpace(programName+" "+group))
}
