package main

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// The flags that many commands share.

// outFlag is -o; of a command that writes only some formats, their extensions.
func outFlag(usage string, only ...string) cli.Flag {
	f := &cli.StringFlag{Name: "o", Aliases: []string{"out"}, Usage: usage}
	if only != nil {
		f.Action = func(c *cli.Context, out string) error {
			if slices.Contains(only, extension(out)) {
				return nil
			}
			return &tables.Fault{File: out, What: fmt.Sprintf("%s writes %s", c.Command.Name, alternatives(only))}
		}
	}
	return f
}

// resultFlag is -o of a command whose result is a page or JSON.
func resultFlag(what string) cli.Flag {
	return outFlag("`FILE`: "+what+": .html or .json", ".html", ".json")
}

// numberFlag refuses what a number cannot be; wanted says in words what it can.
func numberFlag(f *cli.Float64Flag, wanted string, can func(v float64) bool) cli.Flag {
	f.Action = func(_ *cli.Context, v float64) error {
		if can(v) {
			return nil
		}
		return fmt.Errorf("--%s is %v, want %s", f.Name, v, wanted)
	}
	return f
}

func positive(f *cli.Float64Flag) cli.Flag {
	return numberFlag(f, "a number above 0", func(v float64) bool { return v > 0 && v < 1e9 })
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// needs refuses a command line that lacks one of the flags, in the words of its
// usage.
func needs(c *cli.Context, names ...string) error {
	for _, f := range c.Command.Flags {
		if name := f.Names()[0]; slices.Contains(names, name) && c.String(name) == "" {
			word := strings.Split(f.(*cli.StringFlag).Usage, "`")[1]
			return fmt.Errorf("%s needs %s%s %s", c.Command.Name, "--"[:min(len(name), 2)], name, word)
		}
	}
	return nil
}

func jsonFlag() cli.Flag {
	return &cli.BoolFlag{Name: "json", Usage: "print JSON, for programs"}
}

func colorFlag() cli.Flag {
	return &cli.StringFlag{Name: "color", Value: "auto", Usage: "`WHEN`: auto, always or never"}
}

func formatFlag() cli.Flag {
	return &cli.StringFlag{Name: "format", Usage: "`FORMAT`: json, csv or xlsx, for -o -", Action: checkFormat}
}

// checkFormat refuses a --format that the name of the output contradicts, or
// that nothing is written in.
func checkFormat(c *cli.Context, format string) error {
	out := c.String("o")
	ext := extension(out)
	switch {
	case out == "" && c.Command.Name != "take": // which prints the document
		return errors.New("--format is for what -o writes: give -o too")
	case ext != "" && ext != "."+format:
		return &tables.Fault{File: out, What: fmt.Sprintf("its extension is %s, which --format %s contradicts", ext, format)}
	}
	return nil
}

// output says where and in which spelling documents and change sets go.
func output(c *cli.Context) tablefile.Options {
	return tablefile.Options{Format: c.String("format"), Stdout: c.App.Writer}
}

// outputOrPage is [output] of a command that writes pages too.
func outputOrPage(c *cli.Context) tablefile.Options {
	opt := output(c)
	opt.Also = []string{".html"}
	return opt
}

// printCautions writes lines for a person to standard error.
func printCautions(c *cli.Context, lines ...string) {
	for _, l := range lines {
		fmt.Fprintln(c.App.ErrWriter, "calsplice:", tables.Clean(l))
	}
}

// extension is the lower-case extension of -o, with its dot; "" where there is
// none.
func extension(out string) string { return strings.ToLower(filepath.Ext(out)) }
