package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
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

// expand replaces patterns by the files that they match, which a Windows shell
// leaves to the program. A file that is called like a pattern is that file.
func expand(args []string) ([]string, error) {
	var files []string
	for _, a := range args {
		if _, err := os.Lstat(a); err == nil || !strings.ContainsAny(a, "*?[") {
			files = append(files, a)
			continue
		}
		found, err := filepath.Glob(a)
		if err != nil || len(found) == 0 {
			return nil, fmt.Errorf("no file matches %s", tables.Quote(a))
		}
		files = append(files, found...)
	}
	return files, nil
}
