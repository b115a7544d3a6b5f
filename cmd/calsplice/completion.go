package main

import (
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/shell"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

func completion(c *cli.Context) error {
	script, err := shell.Script(c.Args().First(), c.App.Name, c.App.Commands, shell.Values{
		Flags:     choiceFlags(),
		Files:     fileWords,
		Arguments: map[string][]string{"completion": shell.Shells, "schema": schemaNames()}})
	if err != nil {
		return err
	}
	_, err = io.WriteString(c.App.Writer, script)
	return err
}

// fileWords are the flags whose values stand in the files on the line: tables'
// ids, or the channels of logs.
var fileWords = []string{"--table", "--target", "--remove", "--value", "--channel"}

// complete is what the completion scripts ask for the values of
// [fileWords]. It is as quick as reading the files, and says nothing where they
// cannot be read.
func complete(c *cli.Context) error {
	var words []string
	for _, file := range c.Args().Tail() {
		if info, err := os.Stat(file); err != nil || !info.Mode().IsRegular() || info.Size() > 64<<20 {
			continue
		}
		switch c.Args().First() {
		case "table", "target", "remove":
			words = append(words, idsIn(file)...)
		case "value", "channel":
			words = append(words, channelsIn(file)...)
		}
	}
	slices.Sort(words)
	for _, w := range slices.Compact(words) {
		fmt.Fprintln(c.App.Writer, w)
	}
	return nil
}

func idsIn(file string) []string {
	doc, err := tablefile.Read(file, nil)
	if err != nil {
		return nil
	}
	return doc.IDs()
}

func channelsIn(file string) []string {
	l, err := drivelog.Open(file, nil, drivelog.Options{})
	if err != nil {
		return nil
	}
	defer l.Close()
	logged, derived := drivelog.Channels()
	return slices.DeleteFunc(append(logged, derived...), func(name string) bool { return !l.Has(name) })
}
