package main

import (
	"io"
	"os"
	"slices"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// inPlace is the argument that a command may write over with -o: a document
// that it gives back changed. Of every other input -o keeps off.
var inPlace = map[string]int{"show": 0, "convert": 0, "set": 0, "apply": 0, "rescale": 0, "resolve": 0, "merge": 1, "transfer": 1}

// keepInputs refuses an output that would write over an input.
func (in *input) keepInputs() {
	for _, flag := range []string{"o", "conflicts", "save"} {
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

// inputs lists the files that a command reads.
func (in *input) inputs() []string {
	var list []string
	for _, arg := range slices.Concat(in.args, in.many("before"), in.many("after")) {
		book, _, _ := splitRange(arg)
		list = append(list, book)
		if files, err := expand([]string{arg}); err == nil { // else the command says so
			list = append(list, files...)
		}
	}
	for _, flag := range []string{"axes", "like", "channel-map", "log-profile", "visited"} {
		file, _ := tablefile.SplitTable(in.text(flag))
		list = append(list, file, in.text(flag))
	}
	return list
}
