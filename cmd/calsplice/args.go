package main

import (
	"strings"

	"github.com/urfave/cli/v2"
)

// flagsFirst moves a command's flags before its arguments, since people type
// them in any order and the command library reads them in one. What follows
// "--" stays an argument, and so does "-", a standard stream.
func flagsFirst(commands []*cli.Command, args []string) []string {
	var path []string
	var flags []cli.Flag
	for len(args) > 0 {
		cmd := find(commands, args[0])
		if cmd == nil {
			break
		}
		path, args = append(path, args[0]), args[1:]
		flags, commands = cmd.Flags, cmd.Subcommands
	}
	if path == nil {
		return args
	}
	takesValue := valueFlags(flags)
	var first, rest []string
	for i := 0; i < len(args); i++ {
		a := args[i]
		if a == "--" {
			rest = append(rest, args[i+1:]...)
			break
		}
		if len(a) < 2 || a[0] != '-' {
			rest = append(rest, a)
			continue
		}
		first = append(first, a)
		if takesValue[strings.TrimLeft(a, "-")] {
			if i++; i == len(args) {
				return append(path, a) // its value is missing, and "--" is none
			}
			first = append(first, args[i])
		}
	}
	return append(append(path, first...), append([]string{"--"}, rest...)...)
}

func find(commands []*cli.Command, name string) *cli.Command {
	for _, c := range commands {
		if c.HasName(name) {
			return c
		}
	}
	return nil
}

// valueFlags lists the names of the flags that take the next argument.
func valueFlags(flags []cli.Flag) map[string]bool {
	takes := map[string]bool{}
	for _, f := range flags {
		if _, ok := f.(*cli.BoolFlag); ok {
			continue
		}
		for _, n := range f.Names() {
			takes[n] = true
		}
	}
	return takes
}
