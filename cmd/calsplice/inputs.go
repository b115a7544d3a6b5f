package main

import (
	"io"
	"os"
	"slices"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// inPlace is the argument that a command may write over with -o: a document
// that it gives back changed. Of every other input -o keeps off.
var inPlace = map[string]int{"show": 0, "convert": 0, "set": 0, "apply": 0, "rescale": 0, "resolve": 0, "merge": 1, "transfer": 1}

// keepInputs refuses an output that would write over an input.
func keepInputs(c *cli.Context) error {
	for _, flag := range []string{"o", "conflicts", "save"} {
		out, err := os.Stat(c.String(flag))
		if err != nil || !out.Mode().IsRegular() {
			continue
		}
		if flag == "o" && same(given(c), out) {
			continue
		}
		for _, file := range inputs(c) {
			if same(file, out) || file == "-" && sameStdin(c.App.Reader, out) {
				return &tables.Fault{File: file, What: "is an input, and the output would write over it: give that another name"}
			}
		}
	}
	return nil
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

// given is the document that a command gives back changed; "" is none.
func given(c *cli.Context) string {
	at, ok := inPlace[c.Command.Name]
	switch {
	case c.Command.Name == "take":
		return c.String("into")
	case !ok || c.Command.Name == "transfer" && !c.Bool("apply"):
		return ""
	}
	return c.Args().Get(at)
}

// inputs lists the files that a command reads.
func inputs(c *cli.Context) []string {
	var list []string
	for _, arg := range slices.Concat(c.Args().Slice(), many(c, "before"), many(c, "after")) {
		book, _, _ := splitRange(arg)
		list = append(list, book)
		if files, err := expand([]string{arg}); err == nil { // else the command says so
			list = append(list, files...)
		}
	}
	for _, flag := range []string{"axes", "like", "channel-map", "log-profile", "visited"} {
		file, _ := tablefile.SplitTable(c.String(flag))
		list = append(list, file, c.String(flag))
	}
	return list
}
