package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/manual"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// line is a command line, taken apart by what help.txt has of its command, and the
// streams that the command reads and writes.
type line struct {
	ctx            context.Context
	command        *manual.Section
	args           []string
	values         map[string][]string // of the flags that were given, by their first names
	stdin          io.Reader
	stdout, stderr io.Writer
	overlaps       *drivelog.Overlaps // of the logs that the command reads
}

// flagOf is a flag as the command library takes it off a line, by each of its names: what
// is typed for it stands among the line's values. They are checked with the line.
func (l *line) flagOf(d manual.Declared) (list []cli.Flag) {
	for _, name := range d.Names {
		list = append(list, &cli.GenericFlag{Name: name, Value: typedValue{l.values, d}})
	}
	return list
}

// typedValue takes in what is typed for a flag.
type typedValue struct {
	values map[string][]string
	flag   manual.Declared
}

// Set is called for each time that the flag is typed.
func (v typedValue) Set(value string) error {
	name := v.flag.Names[0]
	v.values[name] = append(v.values[name], value)
	return nil
}

func (v typedValue) String() string   { return "" }
func (v typedValue) IsBoolFlag() bool { return v.flag.Value == "" }

// flagsFirst moves a command's flags before its arguments, since people type them in any
// order and the command library reads them in one. What follows "--" is an argument, and
// so is "-", a standard stream.
func flagsFirst(words []string) []string {
	c, rest := named(words)
	first, arguments := slices.Clone(words[:len(words)-len(rest)]), []string{"--"}
	for len(rest) > 0 {
		word := rest[0]
		rest = rest[1:]
		switch {
		case word == "--":
			return append(append(first, arguments...), rest...)
		case len(word) < 2 || word[0] != '-':
			arguments = append(arguments, word)
			continue
		}
		first = append(first, word)
		if d, _ := flagNamed(c.name, strings.TrimLeft(word, "-")); d.Value == "" {
			continue
		}
		if len(rest) == 0 {
			return first // its value is missing, and "--" is none
		}
		first, rest = append(first, rest[0]), rest[1:]
	}
	return append(first, arguments...)
}

// misused says what is wrong with a flag that the command library could not take off a
// line.
func (l *line) misused(err error) error {
	if name, ok := strings.CutPrefix(err.Error(), "flag provided but not defined: -"); ok {
		return l.noFlag(name)
	}
	if name, ok := strings.CutPrefix(err.Error(), "flag needs an argument: -"); ok {
		d, _ := l.flag(name)
		return fmt.Errorf("%s needs %s", typed(name), d.Value)
	}
	return err
}

// typed is a flag as it is typed.
func typed(name string) string { return "--"[:min(len(name), 2)] + name }

// flag is what help.txt has of a flag.
func (l *line) flag(name string) (d manual.Declared, known bool) {
	return flagNamed(l.command.Name, name)
}

// flagNamed is what help.txt has of a command's flag.
func flagNamed(command, name string) (d manual.Declared, known bool) {
	flags := manual.Of(command).Flags()
	i := slices.IndexFunc(flags, func(d manual.Declared) bool { return slices.Contains(d.Names, name) })
	if i < 0 {
		return d, false
	}
	return flags[i], true
}

// noFlag says which flag a command line may have meant.
func (l *line) noFlag(name string) error {
	var names []string
	for _, d := range l.command.Flags() {
		for _, n := range d.Names {
			if len(n) > 1 {
				names = append(names, typed(n))
			}
		}
	}
	what := strings.TrimSpace(programName + " " + l.command.Name)
	if near := tables.Nearest(typed(name), names); near != "" {
		return fmt.Errorf("%s has no flag %s: did you mean %s?", what, typed(name), near)
	}
	return fmt.Errorf("%s has no flag %s: %s --help lists them", what, typed(name), what)
}

// given reports whether a flag was given.
func (l *line) given(flag string) bool { return l.values[flag] != nil }

// many are the values of a flag that may be given several times.
func (l *line) many(flag string) []string { return l.values[flag] }

// text is the value of a flag: the last that was given, or its default.
func (l *line) text(flag string) string {
	if list := l.values[flag]; list != nil {
		return list[len(list)-1]
	}
	d, _ := l.flag(flag)
	return d.Default
}

// yes reports whether a flag without a value was given.
func (l *line) yes(flag string) bool {
	v, _ := strconv.ParseBool(l.text(flag))
	return v
}

// number is the value of a flag that is a number; 0 where it has none.
func (l *line) number(flag string) float64 {
	v, _ := strconv.ParseFloat(l.text(flag), 64)
	return v
}

// arg is an argument; "" where there are fewer.
func (l *line) arg(i int) string {
	if i >= len(l.args) {
		return ""
	}
	return l.args[i]
}

// rest are the arguments behind the first.
func (l *line) rest() []string { return l.args[min(1, len(l.args)):] }

// caution writes lines for a person to standard error.
func (l *line) caution(lines ...string) {
	for _, s := range lines {
		fmt.Fprintln(l.stderr, programName+":", tables.Clean(s))
	}
}

// check checks a command line before the command begins: how many arguments there
// are, what the values of flags can be, and that no output would write over an input.
func (l *line) check() error {
	if err := l.checkArguments(); err != nil {
		return err
	}
	for _, d := range l.command.Flags() {
		for _, v := range l.values[d.Names[0]] {
			if err := l.checkValue(d, v); err != nil {
				return err
			}
		}
	}
	return l.keepInputs()
}

// checkArguments refuses a command line with the wrong number of arguments. The
// usage says how many: one for each word. A word in brackets may be left out,
// and after "..." any number may follow.
func (l *line) checkArguments() error {
	least, most := 0, 0
	for word := range strings.FieldsSeq(l.command.Arguments) {
		most++
		if !strings.HasPrefix(word, "[") {
			least++
		}
		if strings.Contains(word, "...") {
			most = math.MaxInt
			break
		}
	}
	name := l.command.Name
	switch n := len(l.args); {
	case n >= least && n <= most:
		return nil
	case most == 0:
		return fmt.Errorf("%s takes no arguments: %s %s --help has an example", name, programName, name)
	default:
		return fmt.Errorf("%s takes %s, not %d: %s %s --help has an example", name, l.command.Arguments, n, programName, name)
	}
}

// checkValue refuses what the value of a flag cannot be.
func (l *line) checkValue(d manual.Declared, v string) error {
	name := d.Names[0]
	if n, ok := numbers[name]; ok {
		return n.check(name, v)
	}
	if d.Value == "" {
		if _, err := strconv.ParseBool(v); err != nil {
			return fmt.Errorf("%s is %s, expected true or false", typed(name), tables.Quote(v))
		}
	}
	switch name {
	case "format":
		return cmp.Or(checkChoice(d, v), l.checkFormat(v))
	case "o":
		return l.checkOutput(v)
	}
	return checkChoice(d, v)
}

// checkOutput refuses a name of -o whose extension the command does not write.
func (l *line) checkOutput(out string) error {
	if only := outputs[l.command.Name]; only != nil && !slices.Contains(only, extension(out)) {
		return &tables.Fault{File: out, What: fmt.Sprintf("%s writes %s", l.command.Name, tables.Listed(only, "or"))}
	}
	return nil
}

// checkFormat refuses a --format that the name of the output contradicts, or
// that nothing is written in.
func (l *line) checkFormat(format string) error {
	out := l.text("o")
	ext := extension(out)
	switch {
	case out == "" && l.command.Name != "take": // which prints the document
		return errors.New("--format is for what -o writes: give -o too")
	case ext != "" && ext != "."+format:
		return &tables.Fault{File: out, What: fmt.Sprintf("its extension is %s, which --format %s contradicts", ext, format)}
	}
	return nil
}

// needs refuses a command line that lacks one of the flags, in the words of its
// usage.
func (l *line) needs(names ...string) error {
	for _, d := range l.command.Flags() {
		if name := d.Names[0]; slices.Contains(names, name) && l.text(name) == "" {
			return fmt.Errorf("%s needs %s %s", l.command.Name, typed(name), d.Value)
		}
	}
	return nil
}
