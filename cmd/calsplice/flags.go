package main

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/manual"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// flagOf is a flag as help.txt declares it, which checks its value.
func flagOf(d manual.Declared) cli.Flag {
	name, aliases, usage := d.Names[0], d.Names[1:], d.Words()
	valid, isNumber := numbers[name]
	switch {
	case d.Value == "":
		return &cli.BoolFlag{Name: name, Aliases: aliases, Usage: usage, Category: d.Topic}
	case d.Many:
		return &cli.GenericFlag{Name: name, Aliases: aliases, Usage: usage, Category: d.Topic, Value: &manyValue{}}
	case slices.Contains(counts, name):
		n, _ := strconv.Atoi(d.Default)
		return &cli.IntFlag{Name: name, Usage: usage, Value: n}
	case isNumber:
		usage, otherwise, _ := strings.Cut(usage, " (default: ")
		f := &cli.Float64Flag{Name: name, Usage: usage, Category: d.Topic, DefaultText: strings.TrimSuffix(otherwise, ")"), Action: func(_ *cli.Context, v float64) error { return valid.check(name, v) }}
		f.Value, _ = strconv.ParseFloat(d.Default, 64)
		return f
	}
	return &cli.StringFlag{Name: name, Aliases: aliases, Usage: usage, Category: d.Topic, Value: d.Default, Action: func(c *cli.Context, v string) error {
		err := checkChoice(name, v)
		switch name {
		case "format":
			return cmp.Or(err, checkFormat(c, v))
		case "o":
			return checkOutput(c, v)
		}
		return err
	}}
}

// checkOutput refuses a name of -o whose extension the command does not write.
func checkOutput(c *cli.Context, out string) error {
	if only := outputs[c.Command.Name]; only != nil && !slices.Contains(only, extension(out)) {
		return &tables.Fault{File: out, What: fmt.Sprintf("%s writes %s", c.Command.Name, alternatives(only))}
	}
	return nil
}

// outputs are the extensions of -o, of the commands that write no documents.
var outputs = map[string][]string{"give": {".csv", ".tsv", ".txt", ""}, "report": {".html", ".json"},
	"events": {".html", ".json"}, "explain": {".html", ".json"}, "trace": {".html", ".svg", ".png"}}

// counts are the flags that are whole numbers.
var counts = []string{"min-count", "min-visits"}

// number says what the number of a flag can be, and in words.
type number struct {
	wanted string
	can    func(v float64) bool
}

func (n number) check(flag string, v float64) error {
	if n.can(v) {
		return nil
	}
	return fmt.Errorf("--%s is %v, expected %s", flag, v, n.wanted)
}

var (
	anyNumber = number{"a number", func(v float64) bool { return !math.IsNaN(v) }}
	positive  = number{"a number above 0", func(v float64) bool { return v > 0 && v < 1e9 }}
	fromZero  = func(v float64) bool { return v >= 0 && finite(v) }
)

// numbers are the flags that are numbers.
var numbers = map[string]number{
	"above": {"a threshold", anyNumber.can}, "gain": anyNumber, "bound": anyNumber, "dead-band": anyNumber, "rail-pressure": anyNumber, "from": anyNumber, "to": anyNumber,
	"warm-at": {"a temperature in degC", finite}, "settle": {"seconds", fromZero}, "within": {"a number from 0", fromZero},
	"trim-limit":    {"the size in % at which the controller stops a trim", func(v float64) bool { return v > 0 }},
	"rated-density": positive, "donor-density": positive, "density": positive, "barometer": positive, "pressure": positive, "voltage": positive,
	"idle-fuel": positive, "air-mass": positive, "speed": positive, "lambda": positive, "bsfc": positive,
	"duty-limit": {"a number above 0 and no more than 100 %", func(v float64) bool { return v > 0 && v <= 100 }},
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

// manyValue collects a flag that may be given several times. The command
// library's own list would cut its values at commas.
type manyValue struct{ list []string }

func (m *manyValue) Set(s string) error { m.list = append(m.list, s); return nil }
func (m *manyValue) String() string     { return strings.Join(m.list, " ") }

// many are the values of such a flag.
func many(c *cli.Context, name string) []string {
	if m, ok := c.Generic(name).(*manyValue); ok && m != nil {
		return m.list
	}
	return nil
}
