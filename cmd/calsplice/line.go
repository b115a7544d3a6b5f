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

// parse takes the words behind a command's name apart. Flags and arguments may stand
// in any order, as people type them; what follows "--" is an argument, and so is "-", a
// standard stream. It reports whether help is asked for.
func (l *line) parse(words []string) (help bool, err error) {
	l.values = map[string][]string{}
	for len(words) > 0 {
		word := words[0]
		words = words[1:]
		switch {
		case word == "--":
			l.args = append(l.args, words...)
			return help, nil
		case len(word) < 2 || word[0] != '-':
			l.args = append(l.args, word)
			continue
		}
		name, value, given := strings.Cut(strings.TrimPrefix(word[1:], "-"), "=")
		d, known := l.flag(name)
		switch {
		case name == "help" || name == "h":
			help = true
			continue
		case !known:
			return false, l.noFlag(name)
		case given:
		case d.Value == "":
			value = "true"
		case len(words) == 0:
			return false, fmt.Errorf("%s needs %s", typed(name), d.Value)
		default:
			value, words = words[0], words[1:]
		}
		l.values[d.Names[0]] = append(l.values[d.Names[0]], value)
	}
	return help, nil
}

// typed is a flag as it is typed.
func typed(name string) string { return "--"[:min(len(name), 2)] + name }

// flag is what help.txt has of a flag.
func (l *line) flag(name string) (d manual.Declared, known bool) {
	flags := l.command.Flags()
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
