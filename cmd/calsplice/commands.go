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

// word is the last word of the name: of a group's command, the one behind the group's.
func (c command) word() string { return c.name[strings.LastIndexByte(c.name, ' ')+1:] }

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

// named is the command that a line begins with, and what is behind its name.
func named(words []string) (c command, rest []string) {
	list := commands()
	for ; len(words) > 0; words = words[1:] {
		name := strings.TrimSpace(c.name + " " + words[0])
		i := slices.IndexFunc(list, func(c command) bool { return c.name == name })
		if i < 0 {
			break
		}
		c = list[i]
	}
	return c, words
}

// perform does what a command line says.
func (in *input) perform(words []string) error { return in.takeApart(words, in.do) }

// takeApart lets the command library take a command line apart, and then goes on with
// the command that it begins with.
func (in *input) takeApart(words []string, then func(command) error) error {
	in.values = map[string][]string{}
	c := in.libraryCommand(command{}, words, then)
	app := &cli.App{Name: programName, Flags: c.Flags, Commands: c.Subcommands, Action: c.Action, OnUsageError: c.OnUsageError,
		HideHelp: true, HideVersion: true, Writer: in.stdout, ErrWriter: in.stderr}
	return app.RunContext(in.ctx, append([]string{programName}, flagsFirst(words)...))
}

// libraryCommand is a command as the library has it, with those below it. Only those
// that a line names have their flags, so that a program starts sooner.
func (in *input) libraryCommand(c command, words []string, then func(command) error) *cli.Command {
	s := manual.Of(c.name)
	as := &cli.Command{Name: c.word(), HideHelp: true, Action: func(ctx *cli.Context) error {
		in.command, in.args = s, ctx.Args().Slice()
		return then(c)
	}, OnUsageError: func(_ *cli.Context, err error, _ bool) error {
		in.command = s
		return in.misused(err)
	}}
	if c.name == "" || slices.Contains(words, as.Name) {
		for _, d := range append(s.Flags(), manual.Declared{Names: []string{"help", "h"}}) {
			as.Flags = append(as.Flags, in.flagOf(d)...)
		}
	}
	if c.do != nil {
		return as
	}
	for _, below := range commands() {
		if below.name == strings.TrimSpace(c.name+" "+below.word()) {
			as.Subcommands = append(as.Subcommands, in.libraryCommand(below, words, then))
		}
	}
	return as
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
	var names []string
	for _, s := range manual.Below(sections(), group) {
		names = append(names, s.Word())
	}
	s := tables.Unknown("command", name, names)
	if len(names) > 10 && !strings.HasSuffix(s, "?") {
		s = "there is no command " + tables.Quote(name)
	}
	return fmt.Errorf("%s; %s --help lists them", s, strings.TrimSpace(programName+" "+group))
}
