package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/manual"
	"calsplice/merge/caution"
	"calsplice/tables"
	"calsplice/tables/unit"
)

func help(c *cli.Context) error {
	m := theManual(c.App)
	words := c.Args().Slice()
	switch {
	case len(words) == 0:
		m.Overview(c.App.Writer)
		return nil
	case len(words) == 1 && words[0] == "man":
		return m.Man(c.App.Writer, buildVersion())
	case len(words) == 1 && m.Topic(c.App.Writer, words[0]):
		return nil
	}
	name, list := m.Name, m.Commands
	for i, w := range words {
		cmd := find(list, w)
		if cmd == nil && i == 0 {
			return errors.New(tables.Unknown("command or topic", w, m.Names()))
		} else if cmd == nil {
			return unknownCommand(name, w, list)
		}
		name, list = name+" "+cmd.Name, cmd.Subcommands
		if i == len(words)-1 {
			m.Command(c.App.Writer, name, cmd)
		}
	}
	return nil
}

func init() {
	cli.HelpPrinter = printHelp
	// The library words every flag of every command at each start, for help that
	// the manual writes here.
	cli.FlagStringer = func(f cli.Flag) string { return f.Names()[0] }
}

// printHelp prints help in place of the command library's own.
func printHelp(w io.Writer, _ string, data any) {
	switch d := data.(type) {
	case *cli.App:
		theManual(d).Overview(w)
	case *cli.Command:
		m := &manual.Manual{Name: "calsplice", Topics: topics()}
		m.Command(w, d.HelpName, d)
	}
}

func theManual(app *cli.App) *manual.Manual {
	shown := slices.DeleteFunc(slices.Clone(app.Commands), func(c *cli.Command) bool { return c.Hidden })
	return &manual.Manual{Name: app.Name, Usage: app.Usage, Commands: shown, Topics: topics()}
}

// unknownCommand says that a command has no such subcommand; before is what was
// typed before it.
func unknownCommand(before, name string, list []*cli.Command) error {
	var names []string
	for _, c := range list {
		names = append(names, c.Name)
	}
	s := tables.Unknown("command", name, names)
	if len(names) > 10 && !strings.HasSuffix(s, "?") {
		s = "there is no command " + tables.Quote(name)
	}
	return fmt.Errorf("%s; %s --help lists them", s, before)
}

// wrongUsage says which flag a command line may have meant, or what its value can be,
// in place of the error of the flag package; others stay as they are.
func wrongUsage(c *cli.Context, err error, _ bool) error {
	if value, ok := strings.CutPrefix(err.Error(), "invalid value "); ok {
		value, flag, _ := strings.Cut(value, " for flag -")
		flag, _, _ = strings.Cut(flag, ":")
		return fmt.Errorf("--%s is %s, expected %s", flag, value, cmp.Or(numbers[flag].wanted, "a whole number"))
	}
	name, ok := strings.CutPrefix(err.Error(), "flag provided but not defined: ")
	if !ok {
		return err
	}
	typed := name
	if bare := strings.TrimLeft(name, "-"); len(bare) > 1 {
		typed = "--" + bare
	}
	var names []string
	for _, f := range c.Command.Flags {
		for _, n := range f.Names() {
			if len(n) > 1 {
				names = append(names, "--"+n)
			}
		}
	}
	what := cmp.Or(c.Command.HelpName, "calsplice")
	if near := tables.Nearest(typed, names); near != "" {
		return fmt.Errorf("%s has no flag %s: did you mean %s?", what, typed, near)
	}
	return fmt.Errorf("%s has no flag %s: %s --help lists them", what, typed, what)
}

// topics are the pages of help that no single command is about.
func topics() []manual.Topic {
	return []manual.Topic{{Name: "files"}, {Name: "clipboard"}, {Name: "logs"}, {Name: "roles", List: rolesHelp()}, {Name: "units", List: unitsHelp()},
		{Name: "cautions", List: strings.Join(caution.Standing, "\n\n")}}
}

func rolesHelp() string {
	var b strings.Builder
	b.WriteString("\n\n")
	for _, r := range tables.Roles {
		fmt.Fprintf(&b, "  %s\n      %s\n", r, r.Shape().Meaning)
	}
	b.WriteString("\nAxis quantities that are computed with: " + strings.Join(tables.Quantities, ", ") + ".\n")
	return b.String()
}

func unitsHelp() string {
	var b strings.Builder
	b.WriteString("\n\n")
	for _, d := range unit.Dimensions() {
		line := fmt.Sprintf("  %-20s", d)
		for _, name := range unit.Names(d) {
			if len(line)+len(name)+2 > 98 {
				b.WriteString(strings.TrimRight(line, " ") + "\n")
				line = strings.Repeat(" ", 22)
			}
			line += name + "  "
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}

// isVersion reports whether the program is asked for its version.
func isVersion(args []string) bool {
	return len(args) == 1 && slices.Contains([]string{"--version", "-version", "-v", "-V"}, args[0])
}
