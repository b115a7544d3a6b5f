package main

import (
	"io"
	"os"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// inPlace is the argument that a command may write over with -o: a document
// that it gives back changed. Of every other input -o keeps off.
var inPlace = map[string]int{"show": 0, "convert": 0, "set": 0, "apply": 0, "rescale": 0, "resolve": 0, "merge": 1, "transfer": 1}

// writes are the flags whose values are files that a command writes.
var writes = []string{"o", "conflicts", "save"}

// keepInputs refuses an output that would write over an input.
func (in *input) keepInputs() {
	for _, flag := range writes {
		out, err := os.Stat(in.text(flag))
		if err != nil || !out.Mode().IsRegular() {
			continue
		}
		if flag == "o" && same(in.changed(), out) {
			continue
		}
		for _, file := range in.inputs() {
			if same(file, out) || file == "-" && sameStdin(in.stdin, out) {
				check(&tables.Fault{File: file, What: "is an input, and the output would write over it: give that another name"})
			}
		}
	}
}

func same(file string, out os.FileInfo) bool {
	in, err := os.Stat(file)
	return err == nil && os.SameFile(in, out)
}

func sameStdin(stdin io.Reader, out os.FileInfo) bool {
	f, ok := stdin.(*os.File)
	if !ok {
		return false
	}
	in, err := f.Stat()
	return err == nil && os.SameFile(in, out)
}

// changed is the document that a command gives back changed; "" is none.
func (in *input) changed() string {
	at, ok := inPlace[in.command.Name]
	switch {
	case in.command.Name == "take":
		return in.text("into")
	case !ok || in.command.Name == "transfer" && !in.yes("apply"):
		return ""
	}
	return in.arg(at)
}

// inputs lists the files that a command reads: its arguments, and the values of flags
// that help.txt calls files of some kind.
func (in *input) inputs() []string {
	var list []string
	for _, arg := range in.args {
		book, _, _ := splitRange(arg)
		list = append(list, book)
	}
	values := slices.Clone(in.args)
	for _, d := range in.command.Flags() {
		if namesFile(d.Value) && !slices.Contains(writes, d.Names[0]) {
			values = append(values, in.values[d.Names[0]]...)
		}
	}
	for _, v := range values {
		file, _ := tablefile.SplitTable(v)
		list = append(list, file, v)
		if files, err := expand([]string{v}); err == nil { // else the command says so
			list = append(list, files...)
		}
	}
	return list
}

// namesFile reports whether a flag's value is a file, perhaps with a table's id behind it.
func namesFile(value string) bool {
	return slices.ContainsFunc([]string{"FILE", "CAL", "CELLS", "LOG", "PROFILE"}, func(kind string) bool { return strings.HasPrefix(value, kind) })
}
