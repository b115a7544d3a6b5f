package main

import (
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// inPlace is the argument that a command may write over with -o: a document
// that it gives back changed. Of every other input -o keeps off.
var inPlace = map[string]int{"show": 0, "convert": 0, "apply": 0, "rescale": 0, "resolve": 0, "merge": 1, "transfer": 1}

// keepInputs refuses an output that would write over an input.
func keepInputs(c *cli.Context) error {
	for _, flag := range []string{"o", "conflicts"} {
		out, err := os.Stat(c.String(flag))
		if err != nil || !out.Mode().IsRegular() {
			continue
		}
		for _, file := range inputs(c, flag == "o") {
			if in, err := os.Stat(file); err == nil && os.SameFile(in, out) {
				return &tables.Fault{File: file, What: "is an input, and the output would write over it: give that another name"}
			}
		}
	}
	return nil
}

// inputs lists the files that a command reads; without the one that it may write
// over, if that is asked.
func inputs(c *cli.Context, allowed bool) []string {
	var list []string
	for i, arg := range c.Args().Slice() {
		at, ok := inPlace[c.Command.Name]
		if ok && allowed && at == i && (c.Command.Name != "transfer" || c.Bool("apply")) {
			continue
		}
		if sheet := strings.LastIndex(arg, ".xlsx#"); sheet >= 0 {
			list = append(list, arg[:sheet+len(".xlsx")])
		}
		if files, err := expand([]string{arg}); err == nil { // else the command says so
			list = append(list, files...)
		}
	}
	for _, flag := range []string{"axes", "like", "channel-map"} {
		file, _ := tablefile.SplitTable(c.String(flag))
		list = append(list, file, c.String(flag))
	}
	return list
}

// keeping makes commands keep their inputs.
func keeping(list []*cli.Command) []*cli.Command {
	for _, cmd := range list {
		cmd.Before = keepInputs
		keeping(cmd.Subcommands)
	}
	return list
}
