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
	do   func(*input) error
}

// word is the last word of the name: of a group's command, the one behind the group's.
func (c command) word() string { return c.name[strings.LastIndexByte(c.name, ' ')+1:] }

// commands lists every command in the order of the work.
func commands() []command {
	return []command{
		{"new", newForm}, {"check", check}, {"show", show}, {"convert", convert}, {"take", take}, {"give", give}, {"set", set},
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
func (l *line) perform(words []string) error { return l.takeApart(words, l.do) }

// takeApart lets the command library take a command line apart, and then goes on with
// the command that it begins with.
func (l *line) takeApart(words []string, then func(command) error) error {
	l.values = map[string][]string{}
	c := l.libraryCommand(command{}, words, then)
	app := &cli.App{Name: programName, Flags: c.Flags, Commands: c.Subcommands, Action: c.Action, OnUsageError: c.OnUsageError,
		HideHelp: true, HideVersion: true, Writer: l.stdout, ErrWriter: l.stderr}
	return app.RunContext(l.ctx, append([]string{programName}, flagsFirst(words)...))
}

// libraryCommand is a command as the library has it, with those below it. Only those
// that a line names have their flags, so that a program starts sooner.
func (l *line) libraryCommand(c command, words []string, then func(command) error) *cli.Command {
	s := manual.Of(c.name)
	as := &cli.Command{Name: c.word(), HideHelp: true, Action: func(ctx *cli.Context) error {
		l.command, l.args = s, ctx.Args().Slice()
		return then(c)
	}, OnUsageError: func(_ *cli.Context, err error, _ bool) error {
		l.command = s
		return l.misused(err)
	}}
	if c.name == "" || slices.Contains(words, as.Name) {
		for _, d := range append(s.Flags(), manual.Declared{Names: []string{"help", "h"}}) {
			as.Flags = append(as.Flags, l.flagOf(d)...)
		}
	}
	if c.do != nil {
		return as
	}
	for _, below := range commands() {
		if below.name == strings.TrimSpace(c.name+" "+below.word()) {
			as.Subcommands = append(as.Subcommands, l.libraryCommand(below, words, then))
		}
	}
	return as
}

// do runs a command, once its line is taken apart and checked. Errors on the way to a
// command name the commands that there are.
func (l *line) do(c command) error {
	switch {
	case c.do == nil && len(l.args) > 0:
		return unknownCommand(c.name, l.args[0])
	case c.do == nil || l.given("help"):
		theManual().Show(l.stdout, l.command)
		return nil
	}
	if err := l.check(); err != nil {
		return err
	}
	err := c.do(&input{line: l})
	if l.overlaps != nil {
		l.caution(l.overlaps.Told()...)
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
