package main

import (
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

// input is a command line, taken apart by what help.txt has of its command, and the
// streams that the command reads and writes.
type input struct {
	ctx            context.Context
	command        *manual.Section
	args           []string
	values         map[string][]string // of the flags that were given, by their first names
	stdin          io.Reader
	stdout, stderr io.Writer
	overlaps       *drivelog.Overlaps // of the logs that the command reads
	found          bool               // there is something to report: status 1
}

// typedValue takes what is typed for a flag in among a line's values, which are checked
// with the line.
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
func (in *input) flagsFirst(words []string) (first []string) {
	arguments := []string{"--"}
	for len(words) > 0 {
		word := words[0]
		words = words[1:]
		switch {
		case word == "--":
			return slices.Concat(first, arguments, words)
		case len(word) < 2 || word[0] != '-':
			arguments = append(arguments, word)
			continue
		}
		first = append(first, word)
		if in.flag(strings.TrimLeft(word, "-")).Value == "" {
			continue
		}
		if len(words) == 0 {
			return first // its value is missing, and "--" is none
		}
		first, words = append(first, words[0]), words[1:]
	}
	return append(first, arguments...)
}

// misused says what is wrong with a flag that the command library could not take off a
// line.
func (in *input) misused(err error) error {
	if name, ok := strings.CutPrefix(err.Error(), "flag provided but not defined: -"); ok {
		return in.noFlag(name)
	}
	if name, ok := strings.CutPrefix(err.Error(), "flag needs an argument: -"); ok {
		return fmt.Errorf("%s needs %s", typed(name), in.flag(name).Value)
	}
	return err
}

// typed is a flag as it is typed.
func typed(name string) string { return "--"[:min(len(name), 2)] + name }

// flag is what help.txt has of a flag; nothing where it has none.
func (in *input) flag(name string) (d manual.Declared) {
	for _, d := range in.command.Flags() {
		if slices.Contains(d.Names, name) {
			return d
		}
	}
	return d
}

// noFlag says which flag a command line may have meant.
func (in *input) noFlag(name string) error {
	var names []string
	for _, d := range in.command.Flags() {
		for _, n := range d.Names {
			if len(n) > 1 {
				names = append(names, n)
			}
		}
	}
	what := strings.TrimSpace(programName + " " + in.command.Name)
	if near := tables.Nearest(name, names); near != "" {
		return fmt.Errorf("%s has no flag %s: did you mean %s?", what, typed(name), typed(near))
	}
	return fmt.Errorf("%s has no flag %s: %s --help lists them", what, typed(name), what)
}

// given reports whether a flag was given.
func (in *input) given(flag string) bool { return in.values[flag] != nil }

// many are the values of a flag that may be given several times.
func (in *input) many(flag string) []string { return in.values[flag] }

// text is the value of a flag: the last that was given, or its default.
func (in *input) text(flag string) string {
	if list := in.values[flag]; list != nil {
		return list[len(list)-1]
	}
	return in.flag(flag).Default
}

// yes reports whether a flag without a value was given.
func (in *input) yes(flag string) bool {
	v, _ := strconv.ParseBool(in.text(flag))
	return v
}

// number is the value of a flag that is a number; 0 where it has none.
func (in *input) number(flag string) float64 {
	v, _ := strconv.ParseFloat(in.text(flag), 64)
	return v
}

// optional is a number that was given; nil where none was.
func (in *input) optional(flag string) *float64 {
	if !in.given(flag) {
		return nil
	}
	v := in.number(flag)
	return &v
}

// numberOr is the value of a flag that is a number, or what stands for one that is not
// given.
func (in *input) numberOr(flag string, otherwise float64) float64 {
	if in.given(flag) {
		return in.number(flag)
	}
	return otherwise
}

// arg is an argument; "" where there are fewer.
func (in *input) arg(i int) string {
	if i >= len(in.args) {
		return ""
	}
	return in.args[i]
}

// rest are the arguments behind the first.
func (in *input) rest() []string { return in.args[min(1, len(in.args)):] }

// caution writes lines for a person to standard error.
func (in *input) caution(lines ...string) {
	for _, s := range lines {
		fmt.Fprintln(in.stderr, programName+":", tables.Clean(s))
	}
}

// checkLine checks a command line before the command begins: how many arguments there
// are, what the values of flags can be, each of them, and that no output would write over an input.
func (in *input) checkLine() {
	in.checkArguments()
	var faults []error
	for _, d := range in.command.Flags() {
		for _, v := range in.values[d.Names[0]] {
			faults = append(faults, attempt(func() { in.checkValue(d, v) }))
		}
	}
	check(errors.Join(faults...))
	in.keepInputs()
}

// checkArguments refuses a command line with the wrong number of arguments. The
// usage says how many: one for each word. A word in brackets may be left out,
// and after "..." any number may follow.
func (in *input) checkArguments() {
	least, most := 0, 0
	for word := range strings.FieldsSeq(in.command.Arguments) {
		most++
		if !strings.HasPrefix(word, "[") {
			least++
		}
		if strings.Contains(word, "...") {
			most = math.MaxInt
			break
		}
	}
	name := in.command.Name
	n := len(in.args)
	refuse(most == 0 && n > 0, "%s takes no arguments: %s %[1]s --help has an example", name, programName)
	refuse(n < least || n > most, "%s takes %s, not %d: %s %[1]s --help has an example", name, in.command.Arguments, n, programName)
}

// checkValue refuses what the value of a flag cannot be.
func (in *input) checkValue(d manual.Declared, v string) {
	name := d.Names[0]
	what := wrong(d, v)
	refuse(what != "", "%s is %s", typed(name), what)
	switch name {
	case "format":
		in.checkFormat(v)
	case "o":
		in.checkOutput(v)
	}
}

// checkOutput refuses a name of -o whose extension the command does not write.
func (in *input) checkOutput(out string) {
	if only := outputs[in.command.Name]; only != nil && !slices.Contains(only, extension(out)) {
		check(&tables.Fault{File: out, What: fmt.Sprintf("%s writes %s", in.command.Name, tables.Listed(only, "or"))})
	}
}

// checkFormat refuses a --format that the name of the output contradicts, or
// that nothing is written in.
func (in *input) checkFormat(format string) {
	out := in.text("o")
	refuse(out == "" && in.command.Name != "take", "--format is for what -o writes: give -o too") // take prints the document
	if ext := extension(out); ext != "" && ext != "."+format {
		check(&tables.Fault{File: out, What: fmt.Sprintf("its extension is %s, which --format %s contradicts", ext, format)})
	}
}

// needs refuses a command line that lacks one of the flags, in the words of its
// usage.
func (in *input) needs(names ...string) {
	for _, d := range in.command.Flags() {
		name := d.Names[0]
		refuse(slices.Contains(names, name) && in.text(name) == "", "%s needs %s %s", in.command.Name, typed(name), d.Value)
	}
}
